// Shows of each criterion only the parameters that its kind declares; without this script all of them are shown.
"use strict";
(() => {
  function show(row) {
    const kind = row.querySelector('select[name$="-kind"]').value;
    for (const input of row.querySelectorAll("[data-kinds]")) {
      const isUsed = input.dataset.kinds.split(" ").includes(kind);
      input.closest(".field").hidden = !isUsed;
      input.disabled = !isUsed; // a parameter of another kind is not sent
    }
  }
  const rows = document.querySelectorAll("fieldset.criterion");
  rows.forEach(show);
  document.addEventListener("change", (event) => {
    const row = event.target.closest("fieldset.criterion");
    if (row && event.target.name.endsWith("-kind")) show(row);
  });
})();
