// A form with data-outbox is sent at once where the line is there. Where it is not, what was typed
// waits on this device and is sent when the line is back, from whichever page is open then. Each
// sending has a key of its own, by which the server knows one that it has taken already.
"use strict";

(() => {
  const person = document.body.dataset.person;
  const storedAs = `copperlog-outbox:${person}`;
  const token = document.querySelector('[name="csrfmiddlewaretoken"]')?.value ?? "";
  const waiting = () => JSON.parse(localStorage.getItem(storedAs) ?? "[]");
  const store = (entries) => localStorage.setItem(storedAs, JSON.stringify(entries));

  const note = document.createElement("div");
  note.className = "box quiet outbox";
  note.setAttribute("role", "status");

  const say = (...parts) => {
    note.replaceChildren(...parts);
    if (!note.isConnected) document.getElementById("main").prepend(note);
  };

  const link = (entry, words) => {
    const made = document.createElement("a");
    made.href = entry.page;
    made.textContent = words;
    return made;
  };

  const showWaiting = () => {
    const entries = waiting();
    const held = entries.find((entry) => entry.refused);
    if (held) {
      say("What was typed without a line was not taken: ", link(held, `open ${held.title}`), " and mend it.");
    } else if (entries.length) {
      const what = entries.length === 1 ? entries[0].title : `${entries.length} entries`;
      say(`No line to the server. ${what}: kept on this device, and sent when the line is back.`);
    } else if (note.isConnected) {
      note.remove();
    }
  };

  const post = (entry) =>
    fetch(entry.action, {
      method: "POST",
      body: new URLSearchParams([...entry.fields, ["csrfmiddlewaretoken", token]]),
      redirect: "manual",
    });

  // What is taken is answered by a redirect to where it now stands.
  const isTaken = (answer) => answer.type === "opaqueredirect";

  let sending = false;
  const sendWaiting = async () => {
    if (sending || !waiting().length) return;
    sending = true;
    const sent = [];
    for (const entry of waiting().filter((each) => !each.refused)) {
      try {
        const answer = await post(entry);
        if (answer.status >= 500) break;
        if (isTaken(answer)) {
          sent.push(entry);
          store(waiting().filter((each) => each.key !== entry.key));
          localStorage.removeItem(`copperlog-draft:${person}:${entry.draft}`);
        } else {
          store(waiting().map((each) => (each.key === entry.key ? { ...each, refused: true } : each)));
        }
      } catch {
        break;
      }
    }
    sending = false;
    showWaiting();
    if (sent.length && !waiting().length) say("The line is back, and sent: ", link(sent.at(-1), sent.at(-1).title), ".");
  };

  const form = document.querySelector("form[data-outbox]");
  form?.addEventListener("submit", async (event) => {
    if (event.submitter?.name === "more_rows") return;
    event.preventDefault();
    const fields = [...new FormData(form)].filter(
      ([name, value]) => name !== "csrfmiddlewaretoken" && typeof value === "string",
    );
    const entry = {
      key: form.elements.once.value,
      action: location.href,
      page: form.dataset.outbox,
      title: form.dataset.outboxTitle,
      draft: form.dataset.draft ?? "",
      fields,
    };
    try {
      const answer = await post(entry);
      if (isTaken(answer)) location.assign(entry.page);
      // Drawn by the server with what has to be mended; nothing was saved, so it may be sent again.
      else form.submit();
    } catch {
      store([...waiting().filter((each) => each.key !== entry.key), entry]);
      showWaiting();
      note.scrollIntoView({ block: "nearest" });
    }
  });

  window.addEventListener("online", sendWaiting);
  showWaiting();
  sendWaiting();
})();
