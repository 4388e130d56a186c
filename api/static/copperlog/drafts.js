// What is typed into a form with data-draft="name" is kept on this device until it has been saved.
// The server says so on the next page with data-draft-done="name"; until then nothing is lost to a
// flat battery, a closed tab or a lost connection. Drafts are kept apart by who is signed in.
"use strict";

(() => {
  const person = document.body.dataset.person;
  const storedAs = (name) => `copperlog-draft:${person}:${name}`;

  for (const done of document.querySelectorAll("[data-draft-done]")) {
    localStorage.removeItem(storedAs(done.dataset.draftDone));
  }

  const form = document.querySelector("form[data-draft]");
  if (!form) return;
  const key = storedAs(form.dataset.draft);

  const typed = () =>
    [...new FormData(form).entries()].filter(
      ([name, value]) => name !== "csrfmiddlewaretoken" && typeof value === "string",
    );

  const keep = () => {
    localStorage.setItem(key, JSON.stringify({ at: new Date().toISOString(), fields: typed() }));
  };

  let waiting = 0;
  form.addEventListener("input", () => {
    clearTimeout(waiting);
    waiting = setTimeout(keep, 400);
  });
  window.addEventListener("pagehide", () => {
    if (waiting) keep();
  });

  const offer = document.querySelector("[data-draft-offer]");
  const stored = localStorage.getItem(key);
  // A form that came back with errors already holds what was typed.
  if (!stored || !offer || form.dataset.draftFresh === undefined) return;
  const draft = JSON.parse(stored);
  offer.querySelector("[data-draft-time]").textContent = new Date(draft.at).toLocaleString();
  offer.hidden = false;
  offer.querySelector("[data-draft-back]").addEventListener("click", () => {
    // Sent to the server, which draws the form with as many rows as the draft has.
    const sender = document.createElement("form");
    sender.method = "post";
    sender.action = form.dataset.draftRedraw;
    const token = form.querySelector('[name="csrfmiddlewaretoken"]').value;
    const fields = [...draft.fields, ["more_rows", "1"], ["csrfmiddlewaretoken", token]];
    for (const [name, value] of fields) {
      const input = document.createElement("input");
      input.type = "hidden";
      input.name = name;
      input.value = value;
      sender.append(input);
    }
    document.body.append(sender);
    sender.submit();
  });
  offer.querySelector("[data-draft-away]").addEventListener("click", () => {
    localStorage.removeItem(key);
    offer.hidden = true;
  });
})();
