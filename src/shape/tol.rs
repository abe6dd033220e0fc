//! Every tolerance of the program, each with its unit and its reason.
//!
//! Tolerances clean and compare; whether a point is inside or two pieces overlap is decided exactly.

/// Points this near are one point, mm: far below what a cutter's head can step.
pub const SAME_POINT_MM: f64 = 0.001;

/// Greatest distance of a flattened curve from the true one, mm, unless asked otherwise: a quarter of what a cut
/// file may be off in all, so that the larger part is left for its lines and arcs.
pub const CHORD_MM: f64 = 0.005;

/// How exactly an edge is meant to lie where it was drawn, mm: half of what a small laser repeats.
pub const DRAWN_MM: f64 = 0.05;

/// Greatest distance of a round offset corner from the true arc, mm: as for a flattened curve.
pub const ARC_MM: f64 = 0.005;

/// Regions smaller than this are lint, not fabric, mm².
pub const SLIVER_MM2: f64 = 0.05;

/// Outlines open by no more than this are closed and said, mm.
pub const CLOSE_GAP_MM: f64 = 0.5;

/// An edge this near another in the drawing is meant to run along it, mm: as for outlines left open.
pub const ALONGSIDE_MM: f64 = CLOSE_GAP_MM;

/// How far inside the far edge of what covers it a tucked edge stops, mm: what a piece stuck down by hand may be off
/// (common practice, no source).
pub const TUCKED_IN_MM: f64 = 1.0;

/// Half the width of slits that are filled beneath a covering piece, mm: wider than any kerf on cloth (0.1 to 0.5, common
/// practice).
pub const SLIT_MM: f64 = 0.5;

/// What an exact clearance test forgives, mm: rounding of coordinates to nanometres, arcs as chords.
pub const CLEAR_MM: f64 = 0.02;

/// How far the search may draw a piece larger than its clearance asks, mm, to test it with fewer sides.
pub const SEARCH_OUTLINE_MM: f64 = 0.1;

/// How far a lattice-bound pose may lie from its lattice through rounding alone, mm.
pub const ON_LATTICE_MM: f64 = 1e-6;

/// How far a piece placed by hand may lie from its lattice, mm: coordinates typed to hundredths.
pub const LOCKED_IN_STEP_MM: f64 = 0.01;

/// How far round a burnt line cloth counts as spoilt, mm: the kerf, the scorched edge, and what a cloth laid by its key
/// may be off (common practice, no source).
pub const BURNT_MM: f64 = 1.0;

/// How far a kept leftover's outline may be drawn from its true edge, mm, to have fewer corners: far less than the gap
/// it keeps from every cut.
pub const OFFCUT_OUTLINE_MM: f64 = 0.2;

/// How finely a place for a piece cut again is looked for where none is in step, mm: a thread's width is ten times
/// as much.
pub const RECUT_STEP_MM: f64 = 0.05;

/// Two turns this near are the same turn, degrees.
pub const SAME_TURN_DEG: f64 = 1e-9;

/// Coordinates beyond this are not a drawing, mm: a kilometre of cloth.
pub const FARTHEST_MM: f64 = 1.0e6;

/// A map whose area scale lies below this, or above its inverse, flattens or blows up what it maps: no cloth lies so.
pub const FLATTEST_MAP: f64 = 0.01;

/// Least error a measured mark is taken to have, mm: it is read and written down to hundredths.
pub const LEAST_MARK_ERROR_MM: f64 = 0.02;

/// Marks that spread less than this across a line lie in that line, mm root mean square.
pub const IN_A_LINE_MM: f64 = 2.0;
