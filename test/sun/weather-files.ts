/** Invented weather files. */

const HOUR = 3_600_000;

export interface EpwChoices {
  /** Year of the rows of each month, from January; one for all. */
  readonly years?: readonly number[];
  /** Hours ahead of UTC. */
  readonly zone?: number;
  readonly latitude?: number;
  readonly longitude?: number;
  readonly height?: number;
  readonly leapDay?: boolean;
  /** From 1 January; the whole year if not given. */
  readonly days?: number;
  /** Beam irradiance of an hour that ends at the instant (milliseconds since 1970 UTC, in `solarYear`). */
  readonly dni?: (start: number, end: number) => number;
  readonly solarYear?: number;
  /** Changes the lines of data, of which the first is line 9 of the file. */
  readonly edit?: (lines: string[]) => void;
}

/** A cell of a data line changed, columns counted from 1. */
export function withCell(line: string, column: number, cell: string | number): string {
  return line
    .split(',')
    .map((old, index) => (index === column - 1 ? String(cell) : old))
    .join(',');
}

export function epwText(choices: EpwChoices = {}): string {
  const { years = [2019], zone = 0, latitude = 34.5, longitude = -5.2, height = 450 } = choices;
  const solarYear = choices.solarYear ?? 2025;
  const header = [
    `LOCATION,Tarn Hollow (invented),-,-,invented,000000,${latitude},${longitude},${zone},${height}`,
    'DESIGN CONDITIONS,0',
    'TYPICAL/EXTREME PERIODS,0',
    'GROUND TEMPERATURES,0',
    `HOLIDAYS/DAYLIGHT SAVINGS,${choices.leapDay ? 'Yes' : 'No'},0,0,0`,
    'COMMENTS 1,"a comment, with a comma and a lone quote',
    'COMMENTS 2,-',
    'DATA PERIODS,1,1,Data,Sunday, 1/ 1,12/31',
  ];
  const lines: string[] = [];
  const counted = choices.leapDay ? 2024 : 2023;
  const last = Math.min(Date.UTC(counted + 1, 0, 1), Date.UTC(counted, 0, 1 + (choices.days ?? 366)));
  for (let at = Date.UTC(counted, 0, 1); at < last; at += HOUR) {
    const date = new Date(at);
    const [month, day, hour] = [date.getUTCMonth(), date.getUTCDate(), date.getUTCHours() + 1];
    const start = Date.UTC(solarYear, month, day) + (hour - 1 - zone) * HOUR;
    const dni = choices.dni === undefined ? 500 : choices.dni(start, start + HOUR);
    const year = years[month % years.length];
    lines.push(
      `${year},${month + 1},${day},${hour},0,?9?9,15.5,8.0,60,96000,0,0,300,400,${dni.toFixed(3)},80,0,0,0,0,180,2.5,5,5,9999,9999,9,999999999,0,0,0,88,0,0,0`,
    );
  }
  choices.edit?.(lines);
  return `${[...header, ...lines].join('\r\n')}\r\n`;
}
