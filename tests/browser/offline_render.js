// Renders the player's own graph in an OfflineAudioContext: two lanes of a sine, switched while they sound, looped, or taken anew.
async ({ frequency, seconds, switchAt, loop, invertedB, takenAt }) => {
  const { Transport } = await import("/static/listening/transport.js");
  const rate = 48000;
  const context = new OfflineAudioContext(1, seconds * rate, rate);
  const size = 10;
  const sine = (sign) => {
    const buffer = new AudioBuffer({ length: size * rate, sampleRate: rate });
    const data = buffer.getChannelData(0);
    for (let n = 0; n < data.length; n += 1) data[n] = sign * 0.5 * Math.sin((2 * Math.PI * frequency * n) / rate);
    return buffer;
  };
  const buffers = { a: sine(1), b: sine(invertedB ? -1 : 1) };
  const segments = { take: (url) => ({ buffer: buffers[url[0]], failed: false, promise: Promise.resolve() }) };
  const lane = (id, segments = id) => ({
    id,
    prints: [{ segments, segmentUrl: (n) => `${id}/${n}`, delay_s: 0, inverted: Boolean(invertedB) && id === "b", gain: 1, scale: 1 }],
  });
  const transport = new Transport(context, segments, [lane("a"), lane("b")], { segmentSeconds: size, lengthSeconds: size });
  if (loop) transport.region = { ...loop, loops: true };
  await transport.play(loop ? loop.from : 0);
  transport.fill(seconds);
  for (const at of switchAt) {
    context.suspend(at).then(() => {
      transport.hear(transport.heard === "a" ? "b" : "a");
      context.resume();
    });
  }
  for (const at of takenAt) {
    context.suspend(at).then(async () => {
      await transport.take([lane("a", `a at ${at}`), lane("b")]);
      context.resume();
    });
  }
  const rendered = await context.startRendering();
  return Array.from(rendered.getChannelData(0));
};
