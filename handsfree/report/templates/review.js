"use strict";
// Actions of a review. Everything is sent to where the page came from, and nowhere else.
(() => {
  const dialog = document.getElementById("act");
  const form = dialog.querySelector("form");
  const fault = document.getElementById("act-fault");
  const told = document.getElementById("told");
  const head = document.getElementById("attest").dataset.head;
  let action = null;

  const send = (where, what) =>
    fetch(where, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(what) });

  const done = sessionStorage.getItem("done");
  if (done) {
    sessionStorage.removeItem("done");
    told.textContent = done;
    told.hidden = false;
  }

  const gone = () => {
    document.getElementById("gone").hidden = false;
    for (const button of document.querySelectorAll("[data-amend], [data-verify], #attest button")) button.disabled = true;
  };

  // What is new on record, and the way to see it.
  const tell = (news, place) => {
    const list = document.createElement("ul");
    for (const words of news) list.appendChild(document.createElement("li")).textContent = words;
    const anew = document.createElement("button");
    anew.type = "button";
    anew.className = "act";
    anew.textContent = "Show the record as it is now";
    anew.addEventListener("click", () => location.reload());
    place.append(list, anew);
  };

  const submit = async (where, what, place) => {
    place.textContent = "";
    try {
      const answer = await send(where, { ...what, head });
      const said = await answer.json();
      if (!answer.ok) {
        place.textContent = "Refused: " + said.refused;
        if (said.news) tell(said.news, place);
        return;
      }
      sessionStorage.setItem("by", what.by);
      sessionStorage.setItem("done", said.done);
      location.reload();
    } catch {
      gone();
      place.textContent = "The review has ended; nothing was added.";
    }
  };

  const ask = (title, next, fields) => {
    action = next;
    fault.textContent = "";
    document.getElementById("act-title").textContent = title;
    document.getElementById("act-before").hidden = !fields.before;
    document.getElementById("act-earlier").textContent = fields.before || "";
    document.getElementById("act-now").hidden = !fields.now;
    document.getElementById("act-was").textContent = fields.now || "";
    for (const [name, shown] of [["value", fields.value], ["side", fields.side]]) {
      document.getElementById("act-" + name + "-part").hidden = !shown;
      form.elements[name].disabled = !shown;
      form.elements[name].required = name === "value" && shown;
    }
    form.elements.value.value = fields.now || "";
    form.elements.side.value = "";
    form.elements.reason.value = fields.reason || "";
    form.elements.by.value = sessionStorage.getItem("by") || "";
    dialog.showModal();
  };

  for (const button of document.querySelectorAll("[data-amend]")) {
    button.addEventListener("click", () => {
      const { amend, member, now, label, side, before } = button.dataset;
      const next = { where: "amend", entry: Number(amend), member, again: Boolean(before) };
      ask("Amend: " + label, next, { now, value: true, side: Boolean(side), before });
    });
  }
  for (const button of document.querySelectorAll("[data-verify]")) {
    button.addEventListener("click", () => {
      const { verify, now } = button.dataset;
      ask("Mark the note as verified", { where: "verify", entry: Number(verify) }, { now, reason: "read and found right" });
    });
  }
  document.getElementById("act-cancel").addEventListener("click", () => dialog.close());

  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const { where, entry, member, again } = action;
    const side = form.elements.side.disabled ? "" : form.elements.side.value;
    const what = { entry, again, by: form.elements.by.value, reason: form.elements.reason.value };
    if (where === "amend") Object.assign(what, side ? { member: "side", value: side } : { member, value: form.elements.value.value });
    submit(where, what, fault);
  });

  const attest = document.getElementById("attest-form");
  if (attest) {
    attest.elements.by.value = sessionStorage.getItem("by") || "";
    attest.addEventListener("submit", (event) => {
      event.preventDefault();
      const what = { by: attest.elements.by.value, delete_sound: attest.elements.delete_sound.checked };
      if (attest.elements.because) what.because = attest.elements.because.value;
      submit("attest", what, document.getElementById("attest-fault"));
    });
  }

  const beat = () => send("alive", {}).catch(gone);
  setInterval(beat, 10000);
  addEventListener("pageshow", beat);
  // Nothing is ever sent here: that this connection ends tells the review that the window is gone.
  const held = new EventSource("window");
  held.addEventListener("error", () => send("alive", {}).catch(() => {
    held.close();
    gone();
  }));
})();
