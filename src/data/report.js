"use strict";
(() => {
  // Tables: a click on a heading sorts by it, a second one turns the order.
  for (const table of document.querySelectorAll("table.sort")) {
    const body = table.tBodies[0];
    for (const button of table.querySelectorAll("th button")) {
      button.addEventListener("click", () => {
        const th = button.parentElement;
        const column = th.cellIndex;
        const down = th.getAttribute("aria-sort") === "ascending";
        for (const other of th.parentElement.cells) other.removeAttribute("aria-sort");
        th.setAttribute("aria-sort", down ? "descending" : "ascending");
        const key = (row) => {
          const cell = row.cells[column];
          return cell.dataset.v === undefined ? cell.textContent : Number(cell.dataset.v);
        };
        const empty = (k) => k === "" || Number.isNaN(k);
        const rows = Array.from(body.rows);
        rows.sort((a, b) => {
          const x = key(a), y = key(b);
          // What has no value stands last in both orders.
          if (empty(x) || empty(y)) return empty(x) - empty(y);
          const order = typeof x === "number" && typeof y === "number"
            ? x - y : String(x).localeCompare(String(y), "en", { numeric: true });
          return down ? -order : order;
        });
        body.append(...rows);
      });
    }
  }

  // The values: words and a verdict to look for.
  const words = document.getElementById("find"), wanted = document.getElementById("find-verdict");
  const values = document.getElementById("values-table"), found = document.getElementById("found");
  const filter = () => {
    const word = words.value.toLowerCase();
    let shown = 0;
    for (const row of values.tBodies[0].rows) {
      const hit = row.textContent.toLowerCase().includes(word) &&
        (wanted.value === "" || row.dataset.verdict === wanted.value);
      row.hidden = !hit;
      shown += hit ? 1 : 0;
    }
    found.textContent = shown + " of " + values.tBodies[0].rows.length + " values";
  };
  if (words) {
    words.addEventListener("input", filter);
    wanted.addEventListener("change", filter);
    filter();
  }

  // Faces: a picture opens with its marks; switches stay as they are from face to face.
  const dialog = document.getElementById("face"), stage = document.getElementById("stage");
  const title = document.getElementById("face-title"), detail = document.getElementById("detail");
  const faces = Array.from(document.querySelectorAll(".faces button"));
  let at = 0;
  const show = (i) => {
    at = (i + faces.length) % faces.length;
    const content = document.getElementById("face-" + at).content.cloneNode(true);
    stage.replaceChildren(content.querySelector("svg"));
    detail.replaceChildren(content.querySelector(".rows"));
    title.textContent = faces[at].dataset.title;
    dialog.scrollTop = 0;
  };
  faces.forEach((button, i) => button.addEventListener("click", () => {
    show(i);
    dialog.showModal();
  }));
  document.getElementById("before").addEventListener("click", () => show(at - 1));
  document.getElementById("after").addEventListener("click", () => show(at + 1));
  dialog.addEventListener("keydown", (event) => {
    if (event.target.tagName === "INPUT") return;
    if (event.key === "ArrowLeft") show(at - 1);
    if (event.key === "ArrowRight") show(at + 1);
  });
  dialog.addEventListener("close", () => {
    faces[at].focus();
    stage.replaceChildren();
  });
  for (const box of document.querySelectorAll(".switches input")) {
    const set = () => {
      if (box.value === "large") stage.classList.toggle("large", box.checked);
      else stage.classList.toggle("off-" + box.value, !box.checked);
    };
    box.addEventListener("change", set);
    set();
  }
})();
