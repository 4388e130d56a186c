// A form with data-outbox is sent at once where the line is there. Where it is not, or where the
// person has been signed out meanwhile, what was typed waits on this device and is sent later, from
// whichever page is open then. Each sending has a key of its own, by which the server knows one
// that it has taken already. Nothing leaves this device's keeping before the server says in so many
// words that it has it.
"use strict";

(() => {
  const person = document.body.dataset.person;
  const storedAs = `copperlog-outbox:${person}`;
  const token = document.querySelector('[name="csrfmiddlewaretoken"]')?.value ?? "";
  const waiting = () => JSON.parse(localStorage.getItem(storedAs) ?? "[]");
  const store = (entries) => localStorage.setItem(storedAs, JSON.stringify(entries));
  const forget = (unwanted) => store(waiting().filter((each) => !unwanted(each)));
  const mark = (entry, how) =>
    store(waiting().map((each) => (each.key === entry.key ? { ...each, ...how } : each)));

  const note = document.createElement("div");
  note.className = "box quiet outbox";
  note.setAttribute("role", "status");

  const say = (...parts) => {
    note.replaceChildren(...parts);
    if (!note.isConnected) document.getElementById("main").prepend(note);
  };

  const link = (address, words) => {
    const made = document.createElement("a");
    made.href = address;
    made.textContent = words;
    return made;
  };

  const showWaiting = () => {
    const entries = waiting();
    const held = entries.find((entry) => entry.refused);
    const what = entries.length === 1 ? entries[0]?.title : `${entries.length} entries`;
    if (held) {
      const form = link(held.action, `open the form for ${held.title}`);
      say("The server did not take what was typed: ", form, ", bring the draft back and mend it.");
    } else if (entries.some((entry) => entry.signedOut)) {
      say(`${what}: kept on this device. `, link(location.href, "Sign in again"), ", and it is sent.");
    } else if (entries.length) {
      say(`No line to the server. ${what}: kept on this device, and sent when the line is back.`);
    } else if (note.isConnected) {
      note.remove();
    }
  };

  const TAKEN = "taken";
  const SIGNED_OUT = "signed out";
  const REFUSED = "refused";
  const TROUBLE = "trouble";

  /** Send an entry; a line that is not there throws. `isFresh`: the page was drawn just now. */
  const post = async (entry, isFresh = false) => {
    const body = new FormData();
    const photos = await keptPhotos.named(entry.fields);
    for (const [name, value] of [...entry.fields, ...photos]) body.append(name, value);
    body.append("csrfmiddlewaretoken", token);
    const answer = await fetch(entry.action, {
      method: "POST",
      headers: { "X-From-Outbox": "1" },
      body,
      redirect: "manual",
    });
    if (answer.status === 204) return TAKEN;
    // To the page for signing in; a page from before another sign-in has a stale token.
    if (answer.type === "opaqueredirect" || (answer.status === 403 && !isFresh)) return SIGNED_OUT;
    return answer.status >= 500 ? TROUBLE : REFUSED;
  };

  const settled = (entry) => {
    // A mended form of the same name takes the place of what was refused.
    forget((each) => each.key === entry.key || (entry.draft && each.draft === entry.draft));
    localStorage.removeItem(`copperlog-draft:${person}:${entry.draft}`);
  };

  let sending = false;
  const sendWaiting = async (isFresh) => {
    if (sending || !waiting().length) return;
    sending = true;
    let last = null;
    for (const entry of waiting().filter((each) => !each.refused)) {
      let came;
      try {
        came = await post(entry, isFresh);
      } catch {
        break;
      }
      if (came === TAKEN) {
        settled(entry);
        last = entry;
      } else if (came === REFUSED) {
        mark(entry, { refused: true, signedOut: false });
      } else {
        if (came === SIGNED_OUT) mark(entry, { signedOut: true });
        break;
      }
    }
    sending = false;
    showWaiting();
    if (last && !waiting().length) say("The line is back, and sent: ", link(last.page, last.title), ".");
  };

  const form = document.querySelector("form[data-outbox]");
  form?.addEventListener("submit", async (event) => {
    if (event.submitter?.name === "more_rows") return;
    event.preventDefault();
    if (!(await keptPhotos.hasAll())) {
      // This device has no room for the photo: it goes with the form, while there is a line.
      form.submit();
      return;
    }
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
    let came;
    try {
      came = await post(entry);
    } catch {
      came = "no line";
    }
    if (came === TAKEN) {
      settled(entry);
      location.assign(entry.page);
    } else if (came === REFUSED || came === TROUBLE) {
      // The server draws what has to be mended, or says that it failed; the draft stays either way.
      form.submit();
    } else {
      forget((each) => each.key === entry.key);
      store([...waiting(), { ...entry, signedOut: came === SIGNED_OUT }]);
      showWaiting();
      note.scrollIntoView({ block: "nearest" });
    }
  });

  window.addEventListener("online", () => sendWaiting(false));
  showWaiting();
  sendWaiting(true);
})();
