/** The ledger as numbers. */
import type { TraceResult } from '../result/types.js';
import { toCsv } from './csv.js';

/** @returns the loss ledger of all receivers together ("total") and of each */
export function ledgerCsv(result: TraceResult): string {
  const parts = [{ name: 'total', ledger: result.total.ledger }, ...result.receivers];
  const rows = parts.flatMap(({ name, ledger }) =>
    ledger.lines.map((line) => [
      name,
      line.key,
      line.label,
      line.rays ?? '',
      line.power.value,
      line.power.std_err,
      line.share,
    ]),
  );
  return toCsv(['receiver', 'key', 'label', 'rays', 'power_w', 'std_err_w', 'share_of_available'], rows);
}
