// Keys that lead somewhere: an element with data-key="n" is clicked, or focused if one types in it.
// They can be switched off on this device (WCAG 2.1.4) and never act while somebody is typing.
"use strict";

(() => {
  const STORED_AS = "copperlog-single-keys";
  const dialog = document.getElementById("keys");
  const onSwitch = document.getElementById("keys-on");

  const singleKeysAreOn = () => localStorage.getItem(STORED_AS) !== "off";

  const isTyping = (element) =>
    element.isContentEditable || ["INPUT", "SELECT", "TEXTAREA"].includes(element.tagName);

  const isShown = (element) => element.getClientRects().length > 0;

  onSwitch.checked = singleKeysAreOn();
  onSwitch.addEventListener("change", () => {
    localStorage.setItem(STORED_AS, onSwitch.checked ? "on" : "off");
  });

  for (const opener of document.querySelectorAll('[data-key="?"]')) {
    opener.addEventListener("click", () => dialog.showModal());
  }

  document.addEventListener("keydown", (event) => {
    if (event.key === "Enter" && (event.ctrlKey || event.metaKey)) {
      const form = event.target.closest("form");
      if (form && form.method === "post") {
        event.preventDefault();
        form.requestSubmit();
      }
      return;
    }
    if (event.ctrlKey || event.metaKey || event.altKey || event.isComposing) return;
    if (!singleKeysAreOn() || isTyping(event.target) || dialog.open) return;
    const targets = [...document.querySelectorAll(`[data-key="${CSS.escape(event.key)}"]`)];
    // The page's own search field goes before the one in the masthead; on a phone that one is hidden.
    const target = targets.reverse().find((element) => isShown(element) || event.key === "?");
    if (!target) return;
    event.preventDefault();
    if (target.tagName === "INPUT") {
      target.focus();
      target.select();
    } else {
      target.click();
    }
  });
})();
