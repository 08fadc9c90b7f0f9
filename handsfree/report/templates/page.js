"use strict";
// Plays the sound of an utterance. One at a time; the button says what a press will do.
(() => {
  let playing = null;

  const stop = () => {
    if (!playing) return;
    playing.sound.pause();
    playing.sound.currentTime = 0;
    playing.button.setAttribute("aria-pressed", "false");
    playing = null;
  };

  for (const button of document.querySelectorAll("button[data-clip]")) {
    const sound = document.getElementById("clip-" + button.dataset.clip);
    if (!sound) continue;
    button.hidden = false;
    button.addEventListener("click", () => {
      const again = playing && playing.button === button;
      stop();
      if (again) return;
      playing = { sound, button };
      button.setAttribute("aria-pressed", "true");
      sound.addEventListener("ended", stop, { once: true });
      sound.play().catch(stop);
    });
  }

  // Following a link opens the part that it leads to.
  const open = () => {
    const target = location.hash && document.getElementById(decodeURIComponent(location.hash.slice(1)));
    // What is looked at first stays ten lines: the rest of it is opened by hand.
    const inside = target && target.id !== "first" && target.querySelector("details");
    const folded = target && (target.closest("details") || inside);
    if (folded) folded.open = true;
  };
  addEventListener("hashchange", open);
  open();
})();
