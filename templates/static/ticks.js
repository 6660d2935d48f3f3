// A list of ticks with two buttons: all, and none. Without scripts each is ticked by hand.
for (const list of document.querySelectorAll("[data-ticks]")) {
  const acts = document.createElement("div");
  acts.className = "row-of-acts";
  for (const [words, ticked] of [["All", true], ["None", false]]) {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "btn btn-link btn-sm";
    button.textContent = words;
    button.addEventListener("click", () => {
      for (const box of list.querySelectorAll("input[type=checkbox]")) box.checked = ticked;
    });
    acts.append(button);
  }
  list.before(acts);
}
