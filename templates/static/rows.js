// Adds, inserts and takes off table rows without a page load. Without this script the same buttons do it by one.
"use strict";

(function () {
  const letters = /[.*+?^${}()|[\]\\]/g;

  function freshNumber(body) {
    const prefix = body.dataset.rows.replace(letters, "\\$&");
    const named = new RegExp("^" + prefix + "-(\\d+)-origin$");
    let next = 0;
    for (const input of body.querySelectorAll("input[type=hidden]")) {
      const match = named.exec(input.name);
      if (match) next = Math.max(next, Number(match[1]) + 1);
    }
    return Math.max(next, Number(body.dataset.next || 0));
  }

  function freshRow(body) {
    const prefix = body.dataset.rows;
    const source = document.querySelector('template[data-fresh-row="' + prefix + '"]');
    const number = freshNumber(body);
    body.dataset.next = number + 1; // a row that was taken off never gives its number to another
    const held = document.createElement("tbody");
    held.innerHTML = source.innerHTML.split(prefix + "-fresh").join(prefix + "-" + number);
    return held.querySelector("tr");
  }

  function focusIn(row) {
    const first = row && row.querySelector("input:not([type=hidden]), select");
    if (first) first.focus();
  }

  document.addEventListener("click", function (event) {
    const button = event.target.closest("button[name=rows]");
    if (!button) return;
    const at = button.value.indexOf(":");
    const act = button.value.slice(0, at);
    const target = button.value.slice(at + 1);
    const row = button.closest("tr");
    const body = row ? row.parentElement : document.querySelector('tbody[data-rows="' + target + '"]');
    if (!body || (act !== "add" && (!row || row.id !== target))) return; // blocks of rows come from the server
    event.preventDefault();
    if (act === "drop") {
      const next = row.nextElementSibling || row.previousElementSibling;
      row.remove();
      focusIn(next);
      return;
    }
    const made = freshRow(body);
    if (act === "after") row.after(made);
    else body.append(made);
    focusIn(made);
  });
})();
