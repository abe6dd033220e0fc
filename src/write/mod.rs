//! Files out: SVG, PNG, DXF, HTML. Writers take the same plan and make no decisions.
