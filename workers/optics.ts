/** A worker thread: traces nodes of an optics table. Prints nothing, keeps nothing. */
import { type NodeReply, type NodeTask, traceNodes } from '../src/study/optics-table-node.js';

/** The pool calls this by name. */
export function optics(task: NodeTask): NodeReply {
  return traceNodes(task);
}
