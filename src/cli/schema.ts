/** `rowfocus schema`: the JSON Schema of scene files. */
import type { Command } from 'commander';
import type { Session } from './session.js';

export function addSchemaCommand(program: Command, session: Session): void {
  program
    .command('schema')
    .summary('print the JSON Schema of scene files')
    .description(
      'Prints the JSON Schema (draft 7) of scene files, with which editors complete keys and mark mistakes.',
    )
    .addHelpText(
      'after',
      `
Example:
  rowfocus schema > rowfocus.schema.json

An editor that reads YAML schemas finds it by the first line of the scene:
  # yaml-language-server: $schema=./rowfocus.schema.json`,
    )
    .action(async () => {
      const { schemaText } = await import('./schema-text.js');
      session.out.write(schemaText());
    });
}
