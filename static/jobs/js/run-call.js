// Calls the technician when a wait is over: sound, vibration, and the light kept on while it lasts where the phone allows.
let audio = null;

// A phone makes a sound later only when it was allowed one at a tap.
export function allowSound() {
  const Audio = window.AudioContext;
  if (!Audio) return;
  audio ??= new Audio();
  audio.resume().catch(() => {});
}

function beep(at) {
  const tone = audio.createOscillator();
  const loud = audio.createGain();
  tone.frequency.value = 880;
  loud.gain.setValueAtTime(0.4, at);
  loud.gain.setValueAtTime(0, at + 0.25);
  tone.connect(loud).connect(audio.destination);
  tone.start(at);
  tone.stop(at + 0.3);
}

export function call() {
  if (navigator.userActivation?.hasBeenActive) navigator.vibrate?.([400, 200, 400, 200, 400]);
  if (audio?.state === "running") [0, 0.4, 0.8].forEach((later) => beep(audio.currentTime + later));
}

export async function keepLight() {
  await navigator.wakeLock?.request("screen").catch(() => null);
}
