// The ring test's microphone: three seconds as they come, put into the file field as a WAV of
// 32-bit floats. Nothing is sent before the form is.
(() => {
  "use strict";
  const SECONDS = 3;
  const place = document.querySelector("[data-ringtest]");
  const button = place?.querySelector("[data-record]");
  if (!button) return;
  const told = place.querySelector("[data-told]");
  const file = document.getElementById("ring-file");

  function wav(blocks, rate) {
    const count = blocks.reduce((sum, block) => sum + block.length, 0);
    const view = new DataView(new ArrayBuffer(58 + 4 * count));
    const text = (at, word) => [...word].forEach((sign, n) => view.setUint8(at + n, sign.charCodeAt(0)));
    text(0, "RIFF"); view.setUint32(4, 50 + 4 * count, true); text(8, "WAVE");
    text(12, "fmt "); view.setUint32(16, 18, true); view.setUint16(20, 3, true);
    view.setUint16(22, 1, true); view.setUint32(24, rate, true); view.setUint32(28, 4 * rate, true);
    view.setUint16(32, 4, true); view.setUint16(34, 32, true); view.setUint16(36, 0, true);
    text(38, "fact"); view.setUint32(42, 4, true); view.setUint32(46, count, true);
    text(50, "data"); view.setUint32(54, 4 * count, true);
    let at = 58;
    for (const block of blocks) for (const value of block) { view.setFloat32(at, value, true); at += 4; }
    return new File([view.buffer], "taps.wav", { type: "audio/wav" });
  }

  async function record() {
    // Filters for speech would take the ring away with the room.
    const audio = { echoCancellation: false, noiseSuppression: false, autoGainControl: false, channelCount: 1 };
    const stream = await navigator.mediaDevices.getUserMedia({ audio });
    const context = new AudioContext();
    try {
      await context.audioWorklet.addModule(place.dataset.worklet);
      const source = context.createMediaStreamSource(stream);
      const recorder = new AudioWorkletNode(context, "ringtest-recorder");
      const blocks = [];
      recorder.port.onmessage = (event) => blocks.push(event.data);
      source.connect(recorder);
      told.textContent = place.dataset.recording;
      await new Promise((done) => setTimeout(done, SECONDS * 1000));
      source.disconnect();
      const chosen = new DataTransfer();
      chosen.items.add(wav(blocks, context.sampleRate));
      file.files = chosen.files;
      told.textContent = place.dataset.got;
    } finally {
      for (const track of stream.getTracks()) track.stop();
      await context.close();
    }
  }

  button.addEventListener("click", async () => {
    button.disabled = true;
    try {
      await record();
    } catch {
      told.textContent = place.dataset.none;
    }
    button.disabled = false;
  });
})();
