// Asks for the pins of a relay or a module and adds the rows that the circuit has for it.

export function offerDevices(dialog, opener, { sheet, settings, address, token }) {
  const kind = dialog.querySelector("#device-kind");
  const name = dialog.querySelector("#device-name");
  const coil = dialog.querySelector("#device-coil");
  const contact = dialog.querySelector("#device-contact");
  const error = dialog.querySelector("[data-device-error]");
  const more = dialog.querySelector("[data-more-pins]");
  const table = dialog.querySelector(".device-pins");
  const names = [...Object.keys(settings.relays), "module"];
  kind.replaceChildren(...names.map((word) => new Option(word)));

  const cell = (label, field) => {
    const made = document.createElement("td");
    made.dataset.label = label;
    field.setAttribute("aria-label", label);
    made.append(field);
    return made;
  };
  const input = (value = "", hint = "") => {
    const field = document.createElement("input");
    field.value = value;
    field.placeholder = hint;
    return field;
  };

  const addPin = (number = "") => {
    const row = document.createElement("tr");
    const isModule = kind.value === "module";
    const fields = { number: input(number), connection: input("", "its own") };
    fields.number.readOnly = !isModule;
    row.append(cell("Pin", fields.number));
    if (isModule) {
      fields.role = document.createElement("select");
      const roles = Object.entries(settings.roles);
      fields.role.replaceChildren(...roles.map(([role, { words }]) => new Option(words, role)));
      fields.value = input(roles[0][1].value);
      fields.role.addEventListener("change", () => {
        fields.value.value = settings.roles[fields.role.value].value;
      });
      row.append(cell("What it does", fields.role), cell("Value", fields.value));
    } else {
      const words = document.createElement("td");
      words.dataset.label = "What it is";
      words.textContent = settings.terminals[number] ?? "";
      row.append(words);
    }
    row.append(cell("Connection", fields.connection));
    row.fields = fields;
    table.tBodies[0].append(row);
    return row;
  };

  const arrange = () => {
    const isModule = kind.value === "module";
    const heads = isModule ? ["Pin", "What it does", "Value", "Connection"] : ["Pin", "What it is", "Connection"];
    const line = document.createElement("tr");
    line.append(...heads.map((word) => {
      const head = document.createElement("th");
      head.scope = "col";
      head.textContent = word;
      return head;
    }));
    table.tHead.replaceChildren(line);
    table.tBodies[0].replaceChildren();
    dialog.querySelector("[data-relay]").hidden = isModule;
    more.hidden = !isModule;
    if (isModule) {
      addPin("1");
      const ground = addPin("2");
      ground.fields.role.value = "ground";
      ground.fields.role.dispatchEvent(new Event("change"));
      addPin("3").fields.role.value = "to ground";
      table.tBodies[0].lastElementChild.fields.role.dispatchEvent(new Event("change"));
    } else {
      settings.relays[kind.value].forEach(addPin);
    }
  };

  const told = () => ({
    kind: kind.value,
    name: name.value.trim(),
    coil: coil.value,
    contact: contact.value,
    pins: [...table.tBodies[0].rows]
      .map(({ fields }) => ({
        number: fields.number.value.trim(),
        role: fields.role?.value ?? "",
        value: fields.value?.value ?? "",
        connection: fields.connection.value.trim(),
      }))
      .filter((pin) => pin.number || pin.connection),
  });

  const problem = (words) => {
    error.hidden = !words;
    error.textContent = words;
  };

  kind.addEventListener("change", arrange);
  more.addEventListener("click", () => {
    addPin(String(table.tBodies[0].rows.length + 1)).fields.number.focus();
  });
  opener.addEventListener("click", () => {
    name.value = "";
    coil.value = settings.coil;
    contact.value = settings.contact;
    problem("");
    arrange();
    dialog.showModal();
  });
  dialog.querySelector("form").addEventListener("submit", async (event) => {
    if (event.submitter?.value !== "add") return;
    event.preventDefault();
    if (!name.value.trim()) {
      problem("Give it its name on the drawing, such as K1.");
      name.focus();
      return;
    }
    try {
      const response = await fetch(address, {
        method: "POST",
        headers: { "Content-Type": "application/json", "X-CSRFToken": token },
        body: JSON.stringify(told()),
      });
      const answer = await response.json();
      if (!response.ok) return problem(answer.detail);
      sheet.together(() => {
        for (const [section, rows] of Object.entries(answer.rows)) sheet.append(section, rows);
      });
      dialog.close();
    } catch {
      problem("The server cannot be reached. Try again in a moment; nothing is lost.");
    }
  });
}
