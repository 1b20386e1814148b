/** Something about a flight that whoever decides whether to go home should know. */
export interface CheckFinding {
  readonly area: 'streams' | 'synchronisation' | 'gain' | 'images' | 'events' | 'trajectory' | 'rig' | 'coverage';
  /** note: good to know; warning: accuracy or sensitivity suffers; fault: the flight cannot be relied on as it is. */
  readonly weight: 'note' | 'warning' | 'fault';
  readonly name: string;
  readonly detail: string;
  /** When, nanoseconds since the epoch, where it is not the whole flight. */
  readonly fromNs?: number;
  readonly toNs?: number;
}
