// Small helps over pages that work without them. Everything that counts is decided on the server.
"use strict";

(() => {
  const gramsIn = { g: 1, kg: 1000, oz: 28.349523125, lb: 453.59237 };

  // reading is a typed number, or NaN when it could mean two things; the server says which.
  const reading = (text) => {
    const plain = text.trim().replace(",", ".");
    return /^\d*\.?\d+$|^\d+\.$/.test(plain) ? Number(plain) : NaN;
  };

  // The bar below a weighing: under, within, over. In words as well, since a colour alone says nothing.
  for (const box of document.querySelectorAll("[data-scale]")) {
    const mass = box.querySelector("input[name=mass]");
    const unit = box.querySelector("select[name=unit]");
    const scale = box.parentElement.querySelector(".scale");
    if (!mass || !unit || !scale) continue;
    const planned = Number(box.dataset.planned);
    const tolerance = Number(box.dataset.tolerance);
    const show = () => {
      const grams = reading(mass.value) * gramsIn[unit.value];
      scale.hidden = !Number.isFinite(grams);
      if (scale.hidden) return;
      const off = grams - planned;
      const share = Math.min(1, Math.max(0, 0.5 + off / (10 * tolerance)));
      scale.querySelector(".scale-needle").style.left = `${2 + 96 * share}%`;
      const figure = Math.abs(off).toFixed(Math.abs(off) < 10 ? 2 : 1);
      scale.querySelector(".scale-word").textContent =
        Math.abs(off) <= tolerance ? "Within what needs no reason" : off < 0 ? `${figure} g under` : `${figure} g over`;
    };
    mass.addEventListener("input", show);
    unit.addEventListener("change", show);
    show();
  }

  // The second person is asked for only when there is one.
  for (const check of document.querySelectorAll("[name=second_check]")) {
    const form = check.form;
    const person = form.querySelector("[name=checked_by]")?.closest(".field");
    const show = () => {
      person.hidden = new FormData(form).get("second_check") !== "second person";
    };
    if (!person) continue;
    check.addEventListener("change", show);
    show();
  }

  // Where to type next: the first field to be mended, else the mass on the bench.
  const wrong = document.querySelector("[aria-invalid=true]");
  const fine = matchMedia("(pointer: fine)").matches;
  const next = wrong || (fine && document.querySelector("#weigh-mass, #sign-in-login"));
  if (next) next.focus({ preventScroll: !wrong });
  if (!wrong) document.querySelector("form .fault-whole")?.scrollIntoView({ block: "center" });

  // A scanner ends a code with Enter: it goes on to the next empty field, and sends the form from the last.
  document.addEventListener("keydown", (event) => {
    const field = event.target;
    if (event.key !== "Enter" || !field.matches("form[data-guard] input:not([type=checkbox]):not([type=radio])")) return;
    const rest = [...field.form.querySelectorAll("input:required, select:required")];
    const open = rest.find((f) => f !== field && f.type !== "radio" && !f.value && f.offsetParent);
    if (!open) return;
    event.preventDefault();
    open.focus();
  });

  // Half-typed forms are not lost by a stray tap.
  let dirty = false;
  for (const form of document.querySelectorAll("form[data-guard]")) {
    form.addEventListener("input", () => { dirty = true; });
    form.addEventListener("submit", () => {
      dirty = false;
      for (const button of form.querySelectorAll("button")) button.setAttribute("aria-busy", "true");
    });
  }
  addEventListener("beforeunload", (event) => { if (dirty) event.preventDefault(); });

  // The clock of a drill.
  for (const clock of document.querySelectorAll("[data-since]")) {
    const since = Date.parse(clock.dataset.since);
    const tick = () => {
      const s = Math.max(0, Math.round((Date.now() - since) / 1000));
      clock.textContent = `${Math.floor(s / 60)} min ${String(s % 60).padStart(2, "0")} s`;
    };
    tick();
    setInterval(tick, 1000);
  }
})();
