import { useCallback, useEffect, useState } from 'react';

export interface Playback {
  readonly tNs: number;
  readonly playing: boolean;
  readonly speed: number;
  seek(tNs: number): void;
  setPlaying(playing: boolean): void;
  setSpeed(speed: number): void;
}

/** A moment that runs from one end of a pass to the other and begins again. */
export function usePlayback(fromNs: number, toNs: number, startNs: number): Playback {
  const [tNs, setT] = useState(startNs);
  const [playing, setPlaying] = useState(false);
  const [speed, setSpeed] = useState(1);
  useEffect(() => {
    if (!playing) return;
    let last = performance.now();
    let asked = requestAnimationFrame(function step(now) {
      // Where a frame took long, time still runs true; a sleeping tab must not jump minutes.
      const passed = Math.min(now - last, 250) * 1e6 * speed;
      last = now;
      setT((t) => (t + passed > toNs ? fromNs : t + passed));
      asked = requestAnimationFrame(step);
    });
    return () => cancelAnimationFrame(asked);
  }, [playing, speed, fromNs, toNs]);
  const seek = useCallback((t: number) => setT(Math.min(toNs, Math.max(fromNs, t))), [fromNs, toNs]);
  return { tNs, playing, speed, seek, setPlaying, setSpeed };
}
