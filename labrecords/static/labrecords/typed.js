// A part of a form that comes back from the server does not undo what was typed while it was under way.
"use strict";
(() => {
  const fields = (part) => [...part.querySelectorAll("input[name], select[name], textarea[name]")];
  const isTicked = (field) => field.type === "checkbox" || field.type === "radio";
  const key = (field) => (isTicked(field) ? `${field.name}=${field.value}` : field.name);
  const state = (field) => (isTicked(field) ? field.checked : field.value);
  const asked = new WeakMap(); // request -> what the part held when the server was asked
  const typed = new WeakMap(); // request -> what differs when the answer is there
  const seen = (part) => new Map(fields(part).map((field) => [key(field), state(field)]));

  document.addEventListener("htmx:beforeRequest", ({ detail }) => asked.set(detail.xhr, seen(detail.target)));
  document.addEventListener("htmx:beforeSwap", ({ detail }) => {
    const before = asked.get(detail.xhr);
    typed.set(detail.xhr, new Map([...seen(detail.target)].filter(([name, held]) => before.get(name) !== held)));
  });
  document.addEventListener("htmx:afterSwap", ({ detail }) => {
    for (const field of fields(document)) {
      if (!typed.get(detail.xhr).has(key(field))) continue;
      if (isTicked(field)) field.checked = typed.get(detail.xhr).get(key(field));
      else field.value = typed.get(detail.xhr).get(key(field));
    }
  });
})();
