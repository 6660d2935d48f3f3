// Puts a passkey's answer into the form that asks for one. Without this script, or without passkeys in the browser,
// such a form stays hidden or says so, and secret and codes do the same.
"use strict";

(() => {
  const able = window.PublicKeyCredential && PublicKeyCredential.parseRequestOptionsFromJSON;

  const asked = async (form) => {
    const answer = await fetch(form.dataset.question, { headers: { Accept: "application/json" } });
    const options = await answer.json();
    if (!answer.ok) throw new Error(options.refused || "The question could not be fetched.");
    return options.publicKey;
  };

  const answered = async (form) => {
    const options = await asked(form);
    if (form.dataset.passkey === "make") {
      return navigator.credentials.create({ publicKey: PublicKeyCredential.parseCreationOptionsFromJSON(options) });
    }
    return navigator.credentials.get({ publicKey: PublicKeyCredential.parseRequestOptionsFromJSON(options) });
  };

  const tell = (form, words) => {
    const place = form.querySelector(".passkey-told") || form.appendChild(document.createElement("p"));
    place.className = "invalid passkey-told";
    place.setAttribute("role", "alert");
    place.textContent = words;
  };

  const gaveUp = "Nothing was signed: it was given up, took too long, or the device knows no passkey for this site.";

  for (const form of document.querySelectorAll("form[data-passkey]")) {
    if (!able) {
      if (form.dataset.passkey === "make") tell(form, "This browser can't make passkeys; use a newer one, or time codes.");
      continue;
    }
    form.hidden = false;
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      if (!form.reportValidity()) return;
      try {
        form.elements.credential.value = JSON.stringify((await answered(form)).toJSON());
        form.submit();
      } catch (error) {
        tell(form, error.name === "NotAllowedError" ? gaveUp
          : error.name === "InvalidStateError" ? "This device holds a passkey for you already." : error.message);
      }
    });
  }
})();
