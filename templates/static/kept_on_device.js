// Keeps on the device what is typed and what could not be sent because the link dropped, and sends it once it is back.
// Forms with data-draft keep what is typed; forms with data-keep wait here when they can't be sent. Each sending has a
// key of its own, so that the server does it once however often it arrives. Without this script forms work as ever.
"use strict";

(function () {
  const person = document.currentScript.dataset.person;
  const DRAFT = "kept:" + person + ":draft:";
  const WAITING = "kept:" + person + ":waiting";
  const DAYS_KEPT = 7;
  const TRY_AGAIN_MS = 15000;
  const NOT_TYPED = new Set(["hidden", "password", "file", "submit", "button"]);
  const SENDING_KEYS = ["sending", "draft"];
  let busy = false;

  function read(name) {
    try {
      return JSON.parse(localStorage.getItem(name));
    } catch {
      return null;
    }
  }

  function write(name, value) {
    try {
      if (value === null) localStorage.removeItem(name);
      else localStorage.setItem(name, JSON.stringify(value));
      return true;
    } catch {
      return false; // storage is full or forbidden
    }
  }

  // What is typed

  function boxes(form) {
    return [...form.elements].filter((box) => box.name && !NOT_TYPED.has(box.type) && !box.disabled);
  }

  function typed(form) {
    return boxes(form)
      .filter((box) => !["radio", "checkbox"].includes(box.type) || box.checked)
      .map((box) => [box.name, box.value]);
  }

  function putBack(form, pairs) {
    const names = new Set(pairs.map(([name]) => name));
    const given = new Set(pairs.map(([name, value]) => name + "\n" + value));
    const texts = new Map(pairs);
    for (const box of boxes(form)) {
      if (["radio", "checkbox"].includes(box.type)) box.checked = given.has(box.name + "\n" + box.value);
      else if (names.has(box.name)) box.value = texts.get(box.name);
    }
  }

  function said(words, ...more) {
    const line = document.createElement("p");
    line.append(words, ...more);
    return line;
  }

  function button(words, act) {
    const made = document.createElement("button");
    made.type = "button";
    made.className = "btn btn-link btn-sm";
    made.textContent = words;
    made.addEventListener("click", act);
    return made;
  }

  function clock(at) {
    return new Date(at).toLocaleString([], { dateStyle: "medium", timeStyle: "short" });
  }

  function bringBack(form) {
    const name = DRAFT + form.dataset.draft;
    const draft = read(name);
    if (!draft || form.dataset.broughtBack) return;
    if (Date.now() - draft.at > DAYS_KEPT * 86400000) return write(name, null);
    const before = typed(form);
    if (JSON.stringify(before) === JSON.stringify(draft.pairs)) return;
    putBack(form, draft.pairs);
    form.dataset.broughtBack = "yes";
    const forget = button("Forget it", () => {
      write(name, null);
      putBack(form, before);
      note.remove();
    });
    const note = said("Typed on this device, " + clock(draft.at) + ", and not sent. ", forget);
    note.className = "note kept-draft";
    form.prepend(note);
    form.dispatchEvent(new Event("input", { bubbles: true }));
  }

  function mark(link) {
    if (!read(DRAFT + link.dataset.opens) || link.querySelector(".kept-mark")) return;
    const words = document.createElement("span");
    words.className = "kept-mark";
    words.textContent = " (typed here, not sent)";
    link.append(words);
  }

  document.addEventListener("input", (event) => {
    const form = event.target.closest("form[data-draft]");
    if (!form) return;
    const name = DRAFT + form.dataset.draft;
    const pairs = typed(form);
    if (JSON.stringify(read(name)?.pairs) !== JSON.stringify(pairs)) write(name, { at: Date.now(), pairs });
  });

  // What could not be sent

  function waiting() {
    return read(WAITING) || [];
  }

  function keyOf(body) {
    const sent = new URLSearchParams(body);
    return SENDING_KEYS.map((name) => sent.get(name)).find(Boolean) || body;
  }

  function wait(form, address, submitter) {
    const body = new URLSearchParams(new FormData(form, submitter));
    body.delete("csrfmiddlewaretoken");
    const entry = { label: form.dataset.keep, address, body: body.toString(), at: Date.now(), refused: "" };
    const others = waiting().filter((one) => keyOf(one.body) !== keyOf(entry.body));
    if (write(WAITING, [...others, entry])) {
      if (form.dataset.draft) write(DRAFT + form.dataset.draft, null);
    } else {
      tell("The link is down, and this device keeps nothing for this page. Leave the page open and send it again.");
    }
    show();
  }

  function change(entry, refused) {
    const left = waiting().filter((one) => keyOf(one.body) !== keyOf(entry.body));
    write(WAITING, refused === null ? left : [...left, { ...entry, refused }]);
  }

  function place() {
    let found = document.getElementById("kept");
    if (!found) {
      found = document.createElement("section");
      found.id = "kept";
      found.setAttribute("role", "status");
      document.getElementById("messages").after(found);
    }
    return found;
  }

  function tell(words) {
    const line = said(words);
    line.className = "message message-info";
    place().append(line);
  }

  function show() {
    const all = waiting();
    const found = place();
    for (const old of found.querySelectorAll(".note")) old.remove();
    if (!all.length) return;
    const box = document.createElement("div");
    const list = document.createElement("ul");
    box.className = "note";
    box.append(said(all.every((one) => one.refused) ? "Not taken:" : "Not sent yet; it waits on this device for the link:"));
    for (const entry of all) {
      const item = document.createElement("li");
      item.append(entry.label + ", " + clock(entry.at));
      if (entry.refused) {
        const open = document.createElement("a");
        open.href = entry.address;
        open.textContent = "Look at it again";
        item.append(": " + entry.refused + " ", open);
      }
      item.append(" ", button("Forget it", () => (change(entry, null), show())));
      list.append(item);
    }
    box.append(list, button("Send it now", () => sendAll(true)));
    found.append(box);
  }

  // A page that answers with a list of what is wrong, instead of leading on, has refused what was sent.
  function refusal(html) {
    const page = new DOMParser().parseFromString(html, "text/html");
    const found = page.querySelector("main :is(.problems li, .invalid, .invalid-feedback, .message-error)");
    return found ? found.textContent.trim() : "The server did not take it.";
  }

  async function send(entry) {
    const token = JSON.parse(document.body.getAttribute("hx-headers"))["X-CSRFToken"];
    const headers = { "Content-Type": "application/x-www-form-urlencoded", "X-CSRFToken": token };
    const answer = await fetch(entry.address, { method: "POST", body: entry.body, headers });
    if (answer.status >= 500 || answer.status === 429) throw new Error("later");
    if (new URL(answer.url).pathname.startsWith("/sign-in/")) throw new Error("sign in");
    if (answer.redirected) return change(entry, null);
    change(entry, refusal(await answer.text()));
  }

  async function sendAll(asked) {
    if (busy) return;
    busy = true;
    let sent = 0;
    try {
      for (const entry of waiting()) {
        if (entry.refused && !asked) continue;
        await send(entry);
        sent += 1;
      }
    } catch (problem) {
      if (problem.message === "sign in") tell("You are signed out. Sign in again, and what waits is sent.");
    }
    busy = false;
    show();
    if (!sent || waiting().length) return;
    const again = document.createElement("a");
    again.href = location.href;
    again.textContent = "Show it";
    const line = said("What waited on this device has been sent. ", again);
    line.className = "message message-success";
    place().append(line);
  }

  // The page and its forms

  function formOf(event) {
    return event.detail.elt.closest("form[data-keep]");
  }

  function notSent(event) {
    const form = formOf(event);
    if (!form || event.detail.requestConfig.verb !== "post") return;
    const submitter = event.detail.requestConfig.triggeringEvent?.submitter;
    wait(form, event.detail.requestConfig.path, submitter);
  }
  for (const failure of ["htmx:sendError", "htmx:timeout", "htmx:sendAbort"]) document.addEventListener(failure, notSent);

  document.addEventListener("htmx:afterOnLoad", (event) => {
    const form = formOf(event);
    if (form?.dataset.draft && event.detail.requestConfig.verb === "post" && event.detail.xhr.status < 400) {
      write(DRAFT + form.dataset.draft, null);
    }
  });

  function look(within) {
    for (const form of within.querySelectorAll("form[data-draft]")) bringBack(form);
    for (const link of within.querySelectorAll("a[data-opens]")) mark(link);
  }
  document.addEventListener("htmx:load", (event) => look(event.detail.elt.parentElement || document));
  document.addEventListener("DOMContentLoaded", () => {
    look(document);
    show();
    sendAll(false);
  });
  window.addEventListener("online", () => sendAll(false));
  setInterval(() => waiting().some((one) => !one.refused) && sendAll(false), TRY_AGAIN_MS);
})();
