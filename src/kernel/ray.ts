/** The ray in flight, as a row of doubles that all parts of the kernel read and write. Imports nothing. */

/** Offsets into `Scratch.ray`. */
export const RAY_O = 0; // origin, world
export const RAY_D = 3; // direction, world; need not be of unit length
export const RAY_T = 6; // nearest distance so far, in lengths of the direction; set to the limit before a query
export const RAY_W = 7; // watts the ray carries
/** The ray in the frame of the primitive last looked at. */
export const RAY_LO = 8;
export const RAY_LD = 11;
/** Place on the receiver last hit: u, v on its map. */
export const RAY_U = 14;
export const RAY_V = 15;
/** Of the quadratic whose roots are wanted. */
export const RAY_A = 16;
export const RAY_B = 17;
export const RAY_C = 18;
export const RAY_LOW = 19;
export const RAY_REALS = 20;

/** A ray that starts on a surface must not meet it there again: no hit closer than this, metres (directions are near unit length). */
export const RAY_START = 1e-6;
