"use strict";
// The search: each word that is typed must stand in what is known of a page.
(() => {
  const box = document.querySelector("[data-part=search]"), said = document.querySelector("[data-part=said]");
  const rows = [...document.querySelectorAll("[data-words]")];
  const look = () => {
    const words = box.value.toLowerCase().split(/\s+/).filter(Boolean);
    let left = 0;
    for (const row of rows) {
      row.hidden = !words.every(word => row.dataset.words.includes(word));
      if (!row.hidden) left += 1;
    }
    for (const group of document.querySelectorAll("[data-part=group]")) {
      group.hidden = !group.querySelector("[data-words]:not([hidden])");
    }
    said.textContent = words.length ? `${left} of ${rows.length}` : "";
  };
  box.addEventListener("input", look);
  document.querySelector(".search").hidden = false;
})();
