// A photo chosen in a form with data-draft is kept on this device, under a key that stands beside it
// in the form: the photo goes wherever the draft or the outbox takes that key, and it is let go once
// neither of them names it any more.
"use strict";

const keptPhotos = (() => {
  const STORE = "photos";
  const KEY_OF = "_key";
  // What another page has just taken in is not yet in its draft.
  const LET_GO_AFTER_MS = 3_600_000;

  const opened = () =>
    new Promise((resolve, reject) => {
      const asked = indexedDB.open("copperlog", 1);
      asked.onupgradeneeded = () => asked.result.createObjectStore(STORE);
      asked.onsuccess = () => resolve(asked.result);
      asked.onerror = () => reject(asked.error);
    });

  /** Do something with the store, and return what it came to once it is written. */
  const work = async (mode, deed) => {
    const base = await opened();
    try {
      return await new Promise((resolve, reject) => {
        const transaction = base.transaction(STORE, mode);
        const asked = deed(transaction.objectStore(STORE));
        transaction.oncomplete = () => resolve(asked.result);
        transaction.onabort = () => reject(transaction.error);
      });
    } finally {
      base.close();
    }
  };

  const photoOf = async (key) => (await work("readonly", (store) => store.get(key)))?.photo;

  const newKey = () =>
    Array.from(crypto.getRandomValues(new Uint8Array(16)), (byte) =>
      byte.toString(16).padStart(2, "0"),
    ).join("");

  const form = document.querySelector("form[data-draft]");
  const inputs = () => [...(form?.querySelectorAll("input[type=file]") ?? [])];
  const keyOf = (input) => form.elements[input.name + KEY_OF];
  let written = Promise.resolve();

  const keep = async (input) => {
    const [photo] = input.files;
    const key = photo ? newKey() : "";
    if (photo) {
      try {
        await work("readwrite", (store) => store.put({ photo, at: Date.now() }, key));
      } catch {
        keyOf(input).value = "";
        return;
      }
    }
    keyOf(input).value = key;
    keyOf(input).dispatchEvent(new Event("input", { bubbles: true }));
  };

  form?.addEventListener("change", ({ target }) => {
    if (target.type === "file" && keyOf(target)) written = written.then(() => keep(target));
  });

  // A form that was drawn anew brings its keys back, but no browser brings back what was chosen.
  const putBack = async (input) => {
    const photo = await photoOf(keyOf(input).value);
    if (!photo) return;
    const files = new DataTransfer();
    files.items.add(photo);
    input.files = files.files;
  };

  const letGo = async () => {
    const named = [...Object.values(localStorage), ...inputs().map((input) => keyOf(input)?.value)];
    const isNamed = (key) => named.some((text) => text?.includes(key));
    for (const key of await work("readonly", (store) => store.getAllKeys())) {
      const kept = await work("readonly", (store) => store.get(key));
      if (!isNamed(key) && Date.now() - kept.at > LET_GO_AFTER_MS) {
        await work("readwrite", (store) => store.delete(key));
      }
    }
  };

  const begin = async () => {
    await Promise.all(inputs().filter((input) => keyOf(input)?.value).map(putBack));
    await letGo();
  };
  // A browser that keeps nothing sends photos with the form, as ever.
  written = begin().catch(() => {});

  return {
    /** Return the photos that fields of a form name by their keys, by the names they are sent as. */
    async named(fields) {
      await written;
      const found = [];
      for (const [name, key] of fields) {
        if (!name.endsWith(`photo${KEY_OF}`) || !key) continue;
        const photo = await photoOf(key).catch(() => null);
        if (photo) found.push([name.slice(0, -KEY_OF.length), photo]);
      }
      return found;
    },
    /** Return whether every photo that was chosen in the form is kept on this device. */
    async hasAll() {
      await written;
      return inputs().every((input) => !input.files.length || keyOf(input)?.value);
    },
  };
})();
