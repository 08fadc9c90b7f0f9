"use strict";
(() => {
  const LOST_MS = 2500, SILENT_S = 7, OWN_MS = 4000;
  const body = document.body, at = (id) => document.getElementById(id);
  const ring = at("ring"), gone = ring.querySelector(".gone"), end = ring.querySelector(".end");
  let own = "", ownUntil = 0, last = 0, lastState = null, why = "This screen waits for the tool.", drawn = "";

  const put = (id, text) => { const one = at(id); if (one.textContent !== text) { one.textContent = text; return true; } return false; };
  const show = (id, yes) => { const one = at(id); if (one.hidden === Boolean(yes)) one.hidden = !yes; };
  const mark = (one, name, yes) => { if (one.classList.contains(name) !== Boolean(yes)) one.classList.toggle(name, Boolean(yes)); };
  const attribute = (one, name, value) => { if (one.getAttribute(name) !== value) one.setAttribute(name, value); };

  /* As large as fits, never below what can be read from two metres; what does not fit then is cut, and the voice has all of it. */
  const fit = (id, sizes) => {
    const one = at(id), whole = one.dataset.whole ?? one.textContent;
    one.dataset.whole = whole;
    one.textContent = whole;
    const fits = () => one.scrollHeight <= one.clientHeight + 2;
    for (const size of sizes) { one.style.fontSize = size + "rem"; if (fits()) return; }
    const words = whole.split(" ");
    let low = 1, high = words.length;
    while (low < high) {
      const middle = Math.ceil((low + high) / 2);
      one.textContent = words.slice(0, middle).join(" ") + " …";
      if (fits()) low = middle; else high = middle - 1;
    }
    one.textContent = words.slice(0, low).join(" ") + " …";
  };
  /* What does not fit is counted, not cut in two: first the last of the open steps, then the oldest of the values. */
  const fitItems = () => {
    const box = at("state"), full = () => box.scrollHeight > box.clientHeight + 1;
    for (const name of ["items", "values"]) {
      for (const row of at(name).children) row.hidden = false;
      at(name).dataset.left = at(name).dataset.more || "0";
    }
    const count = (name) => {
      const left = Number(at(name).dataset.left);
      put(`${name}-more`, `and ${left} more`);
      show(`${name}-more`, left);
    };
    count("items");
    count("values");
    for (const [name, next] of [["items", (rows) => rows.pop()], ["values", (rows) => rows.shift()]]) {
      const rows = [...at(name).children];
      while (rows.length && full()) {
        next(rows).hidden = true;
        at(name).dataset.left = String(Number(at(name).dataset.left) + 1);
        count(name);
      }
    }
  };
  const fitAll = () => {
    const calm = !lastState.lit && !lastState.hold, say = at("say");
    say.style.fontSize = say.textContent.length > 60 ? "1rem" : "";
    if (lastState.hold) fit("hold-why", [2.2, 1.9, 1.55, 1.3, 1.2, 1]);
    fit("prompt", calm ? [1.9, 1.55, 1.3, 1.2, 1] : [1.55, 1.3, 1.2, 1]);
    fitItems();
  };
  const fresh = (id, text) => { const one = at(id); if (one.dataset.whole === text) return false; delete one.dataset.whole; one.textContent = text; one.dataset.whole = text; return true; };

  const list = (id, rows, make) => {
    const one = at(id), wanted = JSON.stringify(rows);
    if (one.dataset.rows === wanted) return false;
    one.dataset.rows = wanted;
    one.replaceChildren(...rows.map(make));
    return true;
  };
  const element = (name, text, kind) => { const one = document.createElement(name); one.textContent = text; if (kind) one.className = kind; return one; };

  const drawZones = (state) => {
    for (const zone of state.zones) {
      for (const one of document.querySelectorAll(`.zone[data-zone="${zone.id}"]`)) {
        const top = Number(one.dataset.top), bottom = Number(one.dataset.bottom), level = (bottom - top) * Math.min(1, zone.share);
        const light = one.querySelector(".light");
        attribute(light, "y", (bottom - level).toFixed(2));
        attribute(light, "height", level.toFixed(2));
        attribute(one, "class", `zone ${zone.kind}${zone.lit ? " now" : ""}`);
      }
      for (const one of document.querySelectorAll(`.number[data-zone="${zone.id}"]`)) attribute(one, "class", zone.lit ? "number now" : "number");
    }
    const words = state.zones.map((zone) => `${zone.number} ${zone.name}: ${zone.seconds}${zone.word ? ", " + zone.word : ""}`).join("; ");
    for (const figure of document.querySelectorAll("figure")) {
      const title = figure.querySelector("title"), text = `${figure.dataset.caption}. ${words}.`;
      if (title.textContent !== text) title.textContent = text;
      const other = figure.dataset.side !== state.side;
      if (figure.hidden !== other) figure.hidden = other;
    }
    const rows = document.querySelector("#zones ol");
    while (rows.children.length < state.zones.length) {
      const row = document.createElement("li");
      row.append(element("span", "", "name"), element("span", "", "seconds"), element("span", "", "word"));
      rows.append(row);
    }
    state.zones.forEach((zone, index) => {
      const row = rows.children[index];
      attribute(row, "data-number", String(zone.number));
      attribute(row, "class", `${zone.kind}${zone.lit ? " lit" : ""}`);
      for (const [name, text] of [["name", zone.name], ["seconds", zone.seconds + (zone.word ? " " : "")], ["word", zone.word]]) {
        const one = row.querySelector("." + name);
        if (one.textContent !== text) one.textContent = text;
      }
    });
  };

  const drawLit = (lit) => {
    show("dial", lit);
    if (!lit) return;
    attribute(gone, "stroke-dasharray", `${(100 * Math.min(1, lit.share)).toFixed(2)} 100`);
    attribute(end, "transform", `rotate(${(360 * Math.min(1, lit.share)).toFixed(1)} 50 50)`);
    mark(ring, "over", lit.over);
    put("ring-title", `${lit.seconds} of ${lit.target} seconds of light on ${lit.name}${lit.over ? `, over by ${lit.over} seconds` : ""}`);
    put("seconds", lit.seconds);
    put("zone", `${lit.number} ${lit.name}`);
    put("target", `of ${lit.target} s`);
    show("over", lit.over);
    put("over", lit.over ? `OVER by ${lit.over} s` : "");
  };

  const draw = (state) => {
    lastState = state;
    mark(body, "practice", state.practice);
    mark(body, "held", state.hold);
    mark(body, "urgent", state.urgent && !state.hold);
    mark(body, "lit-now", state.lit);
    const hand = !state.hold && document.querySelector("figure") && state.zones && (state.phase === "during" || state.lit) && !state.closed;
    mark(body, "with-hand", hand);
    show("practice", state.practice);
    show("hands", hand);
    show("zones", hand);
    show("hold", state.hold);
    if (state.step) put("step", state.closed ? "The visit is closed" : state.step);
    put("progress", state.progress ? state.progress : "");
    put("clock", state.clock);
    show("strip", state.light === "maybe" || (state.hold && state.lit));
    put("strip", state.light === "maybe" ? "LIGHT MAY BE ON: put it off, say “light off”" : state.lit ? `LIGHT ON: ${state.lit.name}, ${state.lit.seconds} of ${state.lit.target} s${state.lit.over ? `, OVER by ${state.lit.over} s` : ""}` : "");
    show("doing", state.doing && !state.hold);
    put("doing", state.doing || "");
    drawLit(state.lit || null);
    if (hand) drawZones(state);
    const say = state.say || "";
    mark(body, "nothing-to-say", !say);
    let changed = [fresh("prompt", state.prompt), fresh("hold-why", state.hold || ""), fresh("say", say)].some(Boolean);
    show("values-part", state.values && state.values.length);
    put("values-title", state.values_kind || "");
    changed = list("values", state.values || [], ([label, value]) => { const row = document.createElement("li"); row.append(element("span", label), element("strong", value)); return row; }) || changed;
    show("items-part", state.items && !state.closed);
    put("items-title", state.items ? `open (${state.items_done} done)` : "");
    at("items").dataset.more = String(state.items_more || 0);
    at("values").dataset.more = String(state.values_more || 0);
    changed = list("items", state.items || [], (text) => element("li", text)) || changed;
    const heard = at("heard");
    if (heard.className !== state.heard_kind) heard.className = state.heard_kind;
    put("mark", { taken: "=", asked: "?", refused: "×", passed: "–" }[state.heard_kind] || "");
    put("heard-word", state.heard_kind ? state.heard_word + (state.heard ? ":" : "") : "");
    put("heard-text", state.heard_kind ? state.heard : "");
    const notice = performance.now() < ownUntil ? own : state.notice;
    show("notice", notice);
    put("notice", notice);
    put("listening", state.listening);
    const frame = [state.hold !== "", Boolean(state.lit), hand, innerWidth, innerHeight, at("strip").hidden, at("doing").hidden, at("notice").hidden, state.lit && state.lit.over !== ""].join();
    if (changed || frame !== drawn) { drawn = frame; fitAll(); }
    body.dataset.version = String(state.version);
  };

  const live = (yes) => {
    mark(body, "waiting", !yes);
    if (!yes) put("lost-why", why);
  };
  const source = new EventSource("events");
  source.onmessage = (event) => {
    const state = JSON.parse(event.data);
    if (state.visit !== body.dataset.visit) { location.reload(); return; }
    last = performance.now();
    if (state.ended) {
      source.close();
      why = state.closed ? "The visit has ended." : "The tool has been left before the end of the visit. It can be gone on with.";
      last = -Infinity;
      draw(state);
      live(false);
      return;
    }
    draw(state);
    why = `The tool has not answered for ${Math.round(state.silent_s)} s.`;
    live(state.silent_s < SILENT_S);
    if (state.silent_s < SILENT_S) why = "The connection to the tool is lost.";
  };
  source.onerror = () => { if (last !== -Infinity) { if (last) why = "The connection to the tool is lost."; live(false); } };
  setInterval(() => { if (last > 0 && performance.now() - last > LOST_MS) { why = "The connection to the tool is lost."; live(false); } }, 250);
  addEventListener("resize", () => { if (lastState) { drawn = ""; draw(lastState); } });
  addEventListener("keydown", (event) => {
    if (event.key.length > 1 && !["Shift", "Control", "Alt", "Meta", "Tab"].includes(event.key)) {
      own = "this window takes no keys: the pedal counts in the terminal";
      ownUntil = performance.now() + OWN_MS;
      if (lastState) draw(lastState);
    }
  });
})();
