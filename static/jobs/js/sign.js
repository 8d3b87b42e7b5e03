// A pad to sign on with a finger, pen or mouse. What is drawn goes into the hidden field as strokes on 600 by 220 points.
const pad = document.querySelector("[data-sign]");
const kept = document.querySelector('input[name="signature"]');

if (pad && kept) {
  const canvas = pad.querySelector("canvas");
  const pen = canvas.getContext("2d");
  let strokes = read();
  let drawing = null;

  function read() {
    try {
      const found = JSON.parse(kept.value || "[]");
      return Array.isArray(found) ? found.filter(Array.isArray) : [];
    } catch {
      return [];
    }
  }

  function point(event) {
    const box = canvas.getBoundingClientRect();
    const x = ((event.clientX - box.left) / box.width) * canvas.width;
    const y = ((event.clientY - box.top) / box.height) * canvas.height;
    return [Math.round(x), Math.round(y)];
  }

  function draw() {
    pen.clearRect(0, 0, canvas.width, canvas.height);
    pen.strokeStyle = getComputedStyle(canvas).color;
    pen.lineWidth = 4;
    pen.lineCap = pen.lineJoin = "round";
    for (const stroke of strokes) {
      pen.beginPath();
      stroke.forEach(([x, y], at) => (at ? pen.lineTo(x, y) : pen.moveTo(x, y)));
      if (stroke.length === 1) pen.lineTo(stroke[0][0], stroke[0][1]);
      pen.stroke();
    }
  }

  function keep() {
    kept.value = strokes.length ? JSON.stringify(strokes) : "";
  }

  canvas.addEventListener("pointerdown", (event) => {
    event.preventDefault();
    canvas.setPointerCapture(event.pointerId);
    drawing = [point(event)];
    strokes.push(drawing);
    draw();
  });

  canvas.addEventListener("pointermove", (event) => {
    if (!drawing) return;
    const [x, y] = point(event);
    const [lastX, lastY] = drawing.at(-1);
    // Points closer than two make the record long and the line no better.
    if (Math.hypot(x - lastX, y - lastY) < 2) return;
    drawing.push([x, y]);
    draw();
  });

  for (const end of ["pointerup", "pointercancel"]) {
    canvas.addEventListener(end, () => {
      drawing = null;
      keep();
    });
  }

  pad.querySelector("[data-sign-clear]").addEventListener("click", () => {
    strokes = [];
    keep();
    draw();
  });

  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", draw);
  new MutationObserver(draw).observe(document.documentElement, { attributes: true, attributeFilter: ["data-theme"] });
  pad.hidden = false;
  draw();
}
