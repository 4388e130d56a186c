"use strict";
// A connector face is shown from one side at a time; without this script, and on paper, from both.
(() => {
  document.querySelectorAll("[data-face]").forEach((face) => {
    const sides = [...face.querySelectorAll("[data-side]")];
    const button = face.querySelector("[data-flip]");
    let now = 0;
    const show = () => {
      sides.forEach((side, at) => side.classList.toggle("turned-away", at !== now));
      button.querySelector("[data-flip-words]").textContent =
        `Turn it over: see the ${sides[1 - now].dataset.side}`;
    };
    button.hidden = false;
    button.addEventListener("click", () => { now = 1 - now; show(); });
    show();
  });
})();
