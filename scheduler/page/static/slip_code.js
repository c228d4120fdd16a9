"use strict";
/* Where the browser itself reads codes: a photograph of a slip leads to its specimen. */
(function () {
  const place = document.getElementById("camera");
  const said = document.getElementById("camera-said");
  const field = document.getElementById("q");
  if (!("BarcodeDetector" in window) || !place) return;
  place.hidden = false;
  document.getElementById("slip").addEventListener("change", async (event) => {
    const file = event.target.files[0];
    if (!file) return;
    try {
      const picture = await createImageBitmap(file);
      const codes = await new BarcodeDetector({ formats: ["qr_code"] }).detect(picture);
      const ours = codes.map((c) => c.rawValue).find((v) => v.startsWith(field.dataset.code));
      if (!ours) { said.textContent = "No slip's code is seen in that picture. Hold the phone closer, and the slip flat."; return; }
      field.value = ours;
      field.form.requestSubmit();
    } catch (_) { said.textContent = "That picture cannot be read. Type the number instead."; }
  });
})();
