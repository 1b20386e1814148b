import type { TrajectoryTable } from './TrajectoryTable.ts';

const HEADER = 't_ns,lat_deg,lon_deg,height_m,roll_deg,pitch_deg,heading_deg';

/**
 * The text of a `trajectory.csv`, in pieces of some thousand lines. Degrees with 10 decimals of place (0.01 mm) and 6 of
 * attitude (0.7 µm at 40 m), metres with 4; a heading that rounds up to 360 is written as 0.
 */
export function* trajectoryCsv(table: TrajectoryTable): Generator<string> {
  const { velocityNedMps: v, sigma: s, fix } = table;
  let text = [
    HEADER,
    ...(v ? ['v_north_mps,v_east_mps,v_down_mps'] : []),
    ...(s ? ['sd_north_m,sd_east_m,sd_down_m,sd_roll_deg,sd_pitch_deg,sd_heading_deg'] : []),
    ...(fix ? ['fix'] : []),
  ].join(',');
  for (let i = 0; i < table.tNs.length; i++) {
    const heading = table.headingDeg[i].toFixed(6);
    const cells = [
      table.tNs[i].toFixed(0),
      table.latDeg[i].toFixed(10),
      table.lonDeg[i].toFixed(10),
      table.heightM[i].toFixed(4),
      table.rollDeg[i].toFixed(6),
      table.pitchDeg[i].toFixed(6),
      heading === '360.000000' ? '0.000000' : heading,
    ];
    if (v) cells.push(v.north[i].toFixed(4), v.east[i].toFixed(4), v.down[i].toFixed(4));
    if (s) for (const column of [s.northM, s.eastM, s.downM]) cells.push(column[i].toFixed(4));
    if (s) for (const column of [s.rollDeg, s.pitchDeg, s.headingDeg]) cells.push(column[i].toFixed(6));
    if (fix) cells.push(/[",\n]/.test(fix[i]) ? `"${fix[i].replaceAll('"', '""')}"` : fix[i]);
    text += `\n${cells.join(',')}`;
    if (i % 4096 === 4095) {
      yield text;
      text = '';
    }
  }
  yield `${text}\n`;
}
