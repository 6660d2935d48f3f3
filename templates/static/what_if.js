// Moves the slider and the number of the agreed pressure together, and shows the pictures of each new answer.
// Without this script the form has a button, and the page comes back with the same.
"use strict";

(function () {
  const slider = document.getElementById("pressure-slider");
  const form = document.getElementById("what-if");
  const decimals = { "bar": 2, "kgf/cm²": 2, "kPa": 0, "MPa": 3, "psi": 1, "mbar": 0, "mmH₂O": 0 };

  function startSlider() {
    const number = document.getElementById(slider.dataset.number);
    const unit = form.querySelector("select[name=pressure_unit]");
    const barPerUnit = {};
    for (const pair of slider.dataset.barPerUnit.split(" ")) {
      const at = pair.lastIndexOf(":");
      barPerUnit[pair.slice(0, at)] = Number(pair.slice(at + 1));
    }
    let unitBefore = unit.value;

    function follow() {
      const typed = Number(number.value.replace(",", "."));
      if (number.value.trim() && Number.isFinite(typed)) slider.value = typed * barPerUnit[unit.value];
    }

    function write(bar) {
      number.value = (bar / barPerUnit[unit.value]).toFixed(decimals[unit.value] ?? 2);
    }

    slider.addEventListener("input", function () {
      write(Number(slider.value));
    });
    number.addEventListener("input", follow);
    unit.addEventListener("input", function () {
      const typed = Number(number.value);
      if (number.value.trim() && Number.isFinite(typed)) write(typed * barPerUnit[unitBefore]);
      unitBefore = unit.value;
      follow();
    });
    slider.hidden = false;
    follow();
  }

  function showPictures() {
    const now = document.getElementById("pictures-now");
    if (!now) return;
    const diagram = document.getElementById("diagram");
    document.getElementById("diagram-figure").hidden = !now.dataset.diagram;
    if (now.dataset.diagram && diagram.getAttribute("src") !== now.dataset.diagram) {
      diagram.src = now.dataset.diagram;
      diagram.alt = now.dataset.diagramAlt;
    }
    const profile = document.getElementById("profile");
    if (profile && now.dataset.profile && profile.getAttribute("src") !== now.dataset.profile) {
      profile.src = now.dataset.profile;
    }
  }

  if (slider && form) startSlider();
  for (const button of document.querySelectorAll("[data-without-script]")) button.hidden = true;
  document.body.addEventListener("htmx:afterSettle", showPictures);
})();
