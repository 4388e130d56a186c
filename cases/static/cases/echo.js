// What is said of a reading beside its field comes a moment after the focus, and makes the page
// longer: the field that has the focus by then is kept in sight, above the bar at a phone's foot.
"use strict";

document.addEventListener("htmx:afterSwap", (event) => {
  const focused = document.activeElement;
  if (event.target.matches(".echo") && focused?.closest("[data-row], form")) {
    focused.scrollIntoView({ block: "nearest" });
  }
});
