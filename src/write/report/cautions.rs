//! Cautions that stand whatever the plan.

/// A caution: what it is about, and what to heed.
pub(in crate::write) struct Caution {
    /// What it is about.
    pub about: &'static str,
    /// What to heed.
    pub text: &'static str,
}

/// What every plan says before anything is cut. Fume and material cautions follow university and laboratory
/// material lists for laser cutting; hydrogen cyanide from burning wool and silk is common to all.
pub(in crate::write) const STANDING: [Caution; 8] = [
    Caution {
        about: "Fumes",
        text: "Burning cloth gives off fumes that harm. Wool, silk and other hair, nylon, acrylic and polyurethane can give off hydrogen cyanide: cut them only with working extraction to the outside or through a filter made for it, never beside an open window alone. Let the fumes clear before you open the lid.",
    },
    Caution {
        about: "Never cut",
        text: "PVC and vinyl, imitation leather, PTFE, and any cloth or backing whose coating you do not know. They give off poisonous, corrosive gases that harm you and ruin the machine. This holds for fusible web and stitch backing too.",
    },
    Caution {
        about: "Metal",
        text: "Metallised threads, foils and lurex reflect and scatter the beam and can arc or catch fire. Keep them out of the cut.",
    },
    Caution {
        about: "Fire",
        text: "Never leave a running laser. Stay able to stop it, keep a fire extinguisher suited to electrical fires and the material within reach, keep lint and offcuts off the bed. Cotton, linen, paper and stitch backing burn readily; loose pile and fluff flare up.",
    },
    Caution {
        about: "Eyes and skin",
        text: "Run the machine closed, with its interlocks untouched. The beam cannot be seen and blinds for good, also when reflected.",
    },
    Caution {
        about: "Try first",
        text: "Cut a test piece from the same cloth: kerf, speed and power differ from cloth to cloth. Times and widths in this plan are estimates from the job's figures.",
    },
    Caution {
        about: "Measure first",
        text: "Measure width, repeat and skew on the cloth that lies before you, after it has rested, and put the measured values into the job. A plan is only as true as the cloth it was told of.",
    },
    Caution {
        about: "Above this plan",
        text: "The manual of your machine, the rules of your workshop and the law where you are come first. If your machine or place asks for a trained or licensed person, let that person do the work.",
    },
];
