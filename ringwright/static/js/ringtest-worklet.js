// Hands every block of samples on as it comes; nothing is changed.
class Recorder extends AudioWorkletProcessor {
  process(inputs) {
    const channel = inputs[0]?.[0];
    if (channel) this.port.postMessage(channel.slice());
    return true;
  }
}
registerProcessor("ringtest-recorder", Recorder);
