// Copies a picture as it stands on the page, to be pasted into a letter or a sheet.
(() => {
  if (window.kerfledgerCopy) return;
  window.kerfledgerCopy = true;
  const scale = 2; // sharp on paper
  const told = 3000; // ms

  const drawn = async picture => {
    const image = new Image();
    image.src = `data:image/svg+xml,${encodeURIComponent(new XMLSerializer().serializeToString(picture))}`;
    await image.decode();
    const { width, height } = picture.getBoundingClientRect();
    const canvas = Object.assign(document.createElement("canvas"), { width: width * scale, height: height * scale });
    const paper = canvas.getContext("2d");
    paper.fillStyle = getComputedStyle(document.querySelector("[data-testid=stApp]")).backgroundColor;
    paper.fillRect(0, 0, canvas.width, canvas.height);
    paper.drawImage(image, 0, 0, canvas.width, canvas.height);
    return new Promise(done => canvas.toBlob(done, "image/png"));
  };

  document.addEventListener("click", async event => {
    const button = event.target.closest?.(".kl-copy");
    if (!button) return;
    // the one that the button stands below
    const above = each => each.compareDocumentPosition(button) & Node.DOCUMENT_POSITION_FOLLOWING;
    const picture = [...document.querySelectorAll("[data-testid=stVegaLiteChart] svg.marks")].filter(above).pop();
    const say = text => {
      button.textContent = text;
      setTimeout(() => (button.textContent = "Copy"), told);
    };
    try {
      await navigator.clipboard.write([new ClipboardItem({ "image/png": drawn(picture) })]);
      say("Copied");
    } catch {
      say("Not copied: take it as PNG"); // a browser that lets no page write there
    }
  });
})();
