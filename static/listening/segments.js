// The audio of auditions, fetched and decoded segment by segment, a few at a time: five minutes of eight passes as
// decoded samples would fill half a gigabyte.

const KEPT = 64; // decoded segments; ten seconds of mono at 48 kHz are 2 MB

export class Segments {
  constructor(context) {
    this.context = context;
    this.held = new Map(); // url -> { promise, buffer, failed }
  }

  /** What is known of a segment; asked for when it is not there yet. */
  take(url) {
    const there = this.held.get(url);
    if (there) {
      this.held.delete(url); // so that the map stays in the order of last use
      this.held.set(url, there);
      return there;
    }
    const entry = { buffer: null, failed: false, promise: null };
    entry.promise = fetch(url)
      .then((response) => {
        if (!response.ok) throw new Error(`${url}: ${response.status}`);
        return response.arrayBuffer();
      })
      .then((bytes) => this.context.decodeAudioData(bytes))
      .then((buffer) => {
        entry.buffer = buffer;
        return buffer;
      })
      .catch(() => {
        entry.failed = true;
        return null;
      });
    this.held.set(url, entry);
    for (const [oldest, held] of this.held) {
      if (this.held.size <= KEPT) break;
      if (held.buffer || held.failed) this.held.delete(oldest);
    }
    return entry;
  }
}
