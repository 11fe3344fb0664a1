/** The program's version; a test holds it equal to the one in package.json. */
export const VERSION = '0.1.0';
