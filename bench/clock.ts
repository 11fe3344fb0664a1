/** Clocks, and what there is to say of the machine that was measured. */
import { cpus, loadavg } from 'node:os';

/** Wall-clock seconds. */
export function seconds(work: () => void): number {
  const start = performance.now();
  work();
  return (performance.now() - start) / 1000;
}

/** Seconds of processor time of this process: others that want the same core hardly touch it. */
export function coreSeconds(work: () => void): number {
  const before = process.cpuUsage();
  work();
  const { user, system } = process.cpuUsage(before);
  return (user + system) / 1e6;
}

export function repeated(times: number, measure: (index: number) => number): number[] {
  return Array.from({ length: times }, (_, index) => measure(index));
}

/** Processor, runtime, and how many processes want the cores (mean of the last minute): above 0 at the start, others were at work. */
export function machine() {
  return {
    cpu: cpus()[0].model,
    cores: cpus().length,
    node: process.version,
    load: Number(loadavg()[0].toFixed(2)),
  };
}

export function machineLine(): string {
  const { cpu, cores, node, load } = machine();
  return `${cpu}, ${cores} cores, Node ${node}, load ${load}`;
}
