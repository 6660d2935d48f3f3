// Shows that a form is being worked on, and lets it be sent only once. Without this script the browser's own sign does.
"use strict";

document.addEventListener("submit", function (event) {
  const form = event.target.closest("form[data-progress]");
  if (!form || event.defaultPrevented) return;
  if (form.dataset.sent) {
    event.preventDefault();
    return;
  }
  form.dataset.sent = "yes";
  const told = document.createElement("p");
  const bar = document.createElement("progress");
  told.className = "working";
  told.setAttribute("role", "status");
  bar.setAttribute("aria-hidden", "true");
  told.append(bar, " " + form.dataset.progress);
  form.append(told);
});

// A page that the browser brings back from its memory has not been sent.
window.addEventListener("pageshow", function (event) {
  if (!event.persisted) return;
  for (const form of document.querySelectorAll("form[data-progress]")) {
    delete form.dataset.sent;
    for (const told of form.querySelectorAll(".working")) told.remove();
  }
});
