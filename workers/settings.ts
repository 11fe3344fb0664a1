/** A worker thread: what receivers catch at many settings. Prints nothing, keeps nothing. */
import { catchAtSettings, type SettingNodeReply, type SettingNodeTask } from '../src/study/setting-node.js';

/** The pool calls this by name. */
export function settings(task: SettingNodeTask): SettingNodeReply {
  return catchAtSettings(task);
}
