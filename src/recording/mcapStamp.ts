/** The instant `t_ns = 0` of a recording as nanoseconds since 1970, the clock of MCAP. Leap seconds are left out on both sides, so that going there and back is exact. */
export function unixNsOfEpoch(utc: string): bigint {
  const seconds = BigInt(Date.parse(`${utc.slice(0, 19)}Z`) / 1000);
  const fraction = /\.(\d+)Z$/.exec(utc)?.[1] ?? '';
  return seconds * 1_000_000_000n + BigInt(fraction.slice(0, 9).padEnd(9, '0'));
}

/** google.protobuf.Timestamp of an instant; seconds stay below 2^53. */
export function protobufStamp(unixNs: bigint): { readonly seconds: number; readonly nanos: number } {
  const nanos = ((unixNs % 1_000_000_000n) + 1_000_000_000n) % 1_000_000_000n;
  return { seconds: Number((unixNs - nanos) / 1_000_000_000n), nanos: Number(nanos) };
}
