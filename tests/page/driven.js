// A clock that a test drives, and a microphone that hears what it is given: blocks come in order, each
// at its time, however busy the machine is.  Run before the page's own script.
(() => {
  const BLOCK = 2048;
  const driven = { now: 1, rate: 44100, samples: new Float32Array(0), soundAt: 0, latencySec: 0, lost: [], processor: null, asked: null };
  const block = () => BLOCK / driven.rate;

  class DrivenContext extends AudioContext {
    // The device's own clock stands: what nobody hears need not be mixed.
    constructor(options) {
      super(options);
      super.suspend();
    }
    // Whoever waits for a clock that runs sees it run.
    get currentTime() {
      return (driven.now += 1e-9);
    }
    get sampleRate() {
      return driven.rate;
    }
    get state() {
      return "running";
    }
    get outputLatency() {
      return driven.latencySec;
    }
    get baseLatency() {
      return 0;
    }
    async resume() {}
    createMediaStreamSource() {
      return this.createGain();
    }
    createScriptProcessor() {
      return (driven.processor = this.createGain());
    }
  }
  window.AudioContext = DrivenContext;

  const track = { getSettings: () => ({}), stop: () => (driven.asked = null) };
  navigator.mediaDevices.getUserMedia = async (asked) => {
    driven.asked = asked;
    return { getAudioTracks: () => [track], getTracks: () => [track] };
  };

  // What is heard: 16-bit samples in base64, and when on the page's clock the first of them comes.
  driven.hears = (base64, at) => {
    const text = atob(base64);
    const bytes = new Uint8Array(text.length);
    for (let at = 0; at < text.length; at += 1) bytes[at] = text.charCodeAt(at);
    driven.samples = new Float32Array(new Int16Array(bytes.buffer));
    for (let at = 0; at < driven.samples.length; at += 1) driven.samples[at] /= 32768;
    driven.soundAt = at;
  };

  // The block that is over now, but where the list of [from, to] says that it is lost.
  const deliver = () => {
    const heardAt = driven.now - block();
    if (driven.lost.some(([from, to]) => heardAt >= from && heardAt < to)) return;
    const first = Math.round((heardAt - driven.soundAt) * driven.rate);
    const samples = new Float32Array(BLOCK);
    // What the file has of the block; silence before it begins and after it has ended.
    const own = driven.samples.subarray(Math.max(0, first), Math.max(0, first + BLOCK));
    samples.set(own, Math.min(BLOCK, Math.max(0, -first)));
    driven.processor?.onaudioprocess?.({ inputBuffer: { getChannelData: () => samples } });
  };

  // Let the clock run to a time, and the page do at each block what it does on its own timers.
  driven.to = (until) => {
    const { page, ear } = practicePage;
    while (driven.now + block() <= until) {
      driven.now += block();
      deliver();
      page.pump();
      ear.tick();
    }
    page.draw();
  };
  window.driven = driven;
})();
