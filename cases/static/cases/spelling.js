// A word that may be misspelt is asked about below its field; who presses what they meant gets it in
// place of what they typed, everywhere in that field. Nothing is changed unasked.
"use strict";

document.addEventListener("click", (event) => {
  const button = event.target.closest("[data-meant]");
  if (!button) {
    return;
  }
  const asked = button.closest(".spelling");
  const field = document.getElementById(asked.dataset.of);
  const { typed, meant } = button.dataset;
  field.value = field.value.replace(/[\p{L}\p{N}]+(?:['’][\p{L}\p{N}]+)?/gu, (word) => {
    if (word.normalize("NFKC").toLowerCase() !== typed) {
      return word;
    }
    const isCapital = word[0] !== word[0].toLowerCase();
    return isCapital ? meant[0].toUpperCase() + meant.slice(1) : meant;
  });
  button.closest(".question").remove();
  field.focus();
  field.dispatchEvent(new Event("input", { bubbles: true }));
});
