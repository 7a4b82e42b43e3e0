// Pure tones by Web Audio: two notes beating, partials added one by one. Nothing is recorded.
const LOUDEST = 0.3; // of full scale, for all tones together
const RAMP_S = 0.05; // no clicks
const LASTS_S = 20; // forgotten tones end by themselves
const [LOWEST_HZ, HIGHEST_HZ] = [20, 16000];

let context = null;
let volume = null;
let tones = [];
let added = 0;
let ending = 0;

const place = (target) => target.closest?.(".sound");
const partials = (section) => JSON.parse(section.dataset.partials).filter(([hz]) => hz >= LOWEST_HZ && hz <= HIGHEST_HZ);
const say = (section, words) => { section.querySelector("[data-sounding]").textContent = words; };
const level = (section) => {
  const share = section.querySelector("[data-volume]").value / 100;
  return LOUDEST * share * share; // hearing is closer to a power than to a straight line
};

const begin = (section) => {
  context ??= new AudioContext();
  context.resume();
  volume ??= new GainNode(context, { gain: 0 });
  volume.connect(context.destination);
  volume.gain.setTargetAtTime(level(section), context.currentTime, RAMP_S);
  clearTimeout(ending);
  ending = setTimeout(() => stop(section), LASTS_S * 1000);
};

const stop = (section) => {
  clearTimeout(ending);
  const playing = tones;
  tones = [];
  added = 0;
  if (context) volume.gain.setTargetAtTime(0, context.currentTime, RAMP_S);
  setTimeout(() => playing.forEach((tone) => tone.stop()), 6 * RAMP_S * 1000);
  if (section) say(section, "");
};

const sound = (section, [hz, share]) => {
  // All amplitudes together never exceed full scale, however many tones there are.
  const whole = partials(section).reduce((sum, [, part]) => sum + part, 0) || 1;
  const gain = new GainNode(context, { gain: 0 });
  const tone = new OscillatorNode(context, { frequency: hz });
  tone.connect(gain).connect(volume);
  gain.gain.setTargetAtTime(share / whole, context.currentTime, RAMP_S);
  tone.start();
  tones.push(tone);
};

const playAll = (section) => {
  stop();
  begin(section);
  partials(section).forEach((partial) => sound(section, partial));
  added = tones.length;
  say(section, `${added} tones are sounding.`);
};

const addNext = (section) => {
  const all = partials(section);
  if (added >= all.length) stop();
  begin(section);
  const next = all[added];
  if (!next) return;
  sound(section, next);
  added += 1;
  say(section, `Tone ${added} of ${all.length} added: ${next[0].toFixed(1)} Hz.`);
};

const reveal = () => document.querySelectorAll(".sound").forEach((section) => {
  section.querySelectorAll("[data-controls]").forEach((part) => { part.hidden = false; });
  section.querySelector("[data-without-sound]").hidden = true;
});

if ("AudioContext" in window) {
  reveal();
  document.addEventListener("result-swapped", () => { stop(); reveal(); });
  document.addEventListener("click", ({ target }) => {
    const section = place(target);
    if (!section) return;
    if (target.closest("[data-play]")) playAll(section);
    else if (target.closest("[data-add]")) addNext(section);
    else if (target.closest("[data-stop]")) stop(section);
  });
  document.addEventListener("input", ({ target }) => {
    if (target.matches?.("[data-volume]") && context && tones.length) {
      volume.gain.setTargetAtTime(level(place(target)), context.currentTime, RAMP_S);
    }
  });
  document.addEventListener("keydown", ({ key }) => {
    if (key === "Escape") stop(document.querySelector(".sound"));
  });
  addEventListener("pagehide", () => stop());
}
