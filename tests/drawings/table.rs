//! Small drawings of every kind of container under every kind of transform.
//!
//! A page is 120 × 120 mm and 90 × 90 units. `{T}` stands for a transform attribute, `{C}` for the motif: a
//! shape with no symmetry, an ellipse and a stroke, each of its own colour, so that what is turned, mirrored, cut
//! or stretched wrongly shows.

/// One drawing.
pub struct Small {
    /// Container and transform.
    pub name: String,
    /// The whole file.
    pub svg: String,
    /// Words of the note that must be told where the drawing cannot be read as it is meant.
    pub told: Option<&'static str>,
}

const MOTIF: &str = "<path fill='#ff0000' d='M4 4H28V10H10V16H22V22H10V36H4Z'/>\
    <ellipse fill='#0000ff' cx='24' cy='30' rx='9' ry='5'/>\
    <path fill='none' stroke='#00aa00' stroke-width='3' d='M32 6L38 20L33 34'/>";

const MAPS: [(&str, &str); 12] = [
    ("as it is", ""),
    ("moved", "translate(31 22)"),
    ("moved along x", "translate(45)"),
    ("halved", "scale(.5)"),
    ("stretched", "scale(2.2 1.3)"),
    ("turned", "rotate(-17)"),
    ("turned about a point", "rotate(40 37 29)"),
    ("leant", "skewX(28)"),
    ("climbing", "skewY(14)"),
    ("mirrored", "translate(83 7) scale(-1 1)"),
    ("by a matrix", "matrix(.9 .5 -.4 1.1 33 3)"),
    ("one after another", "translate(58 11) rotate(35) scale(1.4 .8), skewX(-9)"),
];

/// Containers that are tried under every map.
const CONTAINERS: [(&str, &str); 34] = [
    ("group", "<g{T}>{C}</g>"),
    ("group in a group", "<g transform='translate(9 4) rotate(6)'><g{T}>{C}</g></g>"),
    ("link", "<a{T}>{C}</a>"),
    (
        "switch",
        "<switch{T}><g requiredExtensions='urn:none'><rect width='90' height='90'/></g><g>{C}</g></switch>",
    ),
    ("copy of a group", "<defs><g id='m'>{C}</g></defs><use href='#m'{T}/>"),
    (
        "copy of a turned group",
        "<defs><g id='m' transform='rotate(9) scale(.8)'>{C}</g></defs><use href='#m' x='11' y='7'{T}/>",
    ),
    (
        "copy of a copy",
        "<defs><g id='m'>{C}</g><use id='n' href='#m' x='5' y='8' transform='rotate(12)'/></defs><use href='#n' x='6' y='-2'{T}/>",
    ),
    (
        "copy in a moved group",
        "<defs><g id='m'>{C}</g></defs><g transform='translate(13 6) scale(.9)'><use href='#m' y='3'{T}/></g>",
    ),
    ("copy of a symbol", "<symbol id='m'>{C}</symbol><use href='#m'{T}/>"),
    ("copy of a symbol, sized", "<symbol id='m'>{C}</symbol><use href='#m' width='26' height='33'{T}/>"),
    (
        "copy of a symbol, placed and sized",
        "<symbol id='m'>{C}</symbol><use href='#m' x='9' y='12' width='30' height='28'{T}/>",
    ),
    (
        "copy of a symbol with a viewBox",
        "<symbol id='m' viewBox='2 3 33 38'>{C}</symbol><use href='#m' x='5' y='4' width='47' height='41'{T}/>",
    ),
    (
        "copy of a symbol that slices",
        "<symbol id='m' viewBox='0 0 36 28' preserveAspectRatio='xMinYMax slice'>{C}</symbol><use href='#m' x='8' y='3' width='31' height='44'{T}/>",
    ),
    (
        "copy of a symbol that shows all",
        "<symbol id='m' viewBox='8 9 20 20' overflow='visible'>{C}</symbol><use href='#m' x='12' y='14' width='23' height='27'{T}/>",
    ),
    (
        "copy of a symbol in a symbol",
        "<symbol id='n' viewBox='0 0 30 40'>{C}</symbol><symbol id='m' viewBox='0 0 50 50'><use href='#n' x='5' y='6' width='40' height='38'/></symbol><use href='#m' width='52' height='44'{T}/>",
    ),
    (
        "copy of a symbol in a turned group",
        "<symbol id='m' viewBox='0 0 40 34'>{C}</symbol><g transform='rotate(8) translate(9 2)'><use href='#m' width='41' height='50'{T}/></g>",
    ),
    (
        "copy of a copy of a symbol",
        "<symbol id='m' viewBox='0 0 30 30'>{C}</symbol><defs><use id='n' href='#m' x='4' y='5' width='34' height='36' transform='rotate(5)'/></defs><use href='#n' x='7'{T}/>",
    ),
    (
        "copy of a drawing within",
        "<defs><svg id='m' x='3' y='5' width='33' height='29' viewBox='0 0 40 40'>{C}</svg></defs><use href='#m' x='6' y='2'{T}/>",
    ),
    (
        "copy of a drawing within, sized",
        "<defs><svg id='m' width='33' height='29' viewBox='0 0 30 44'>{C}</svg></defs><use href='#m' x='6' y='2' width='44' height='37'{T}/>",
    ),
    ("drawing within", "<g{T}><svg x='7' y='9' width='29' height='26'>{C}</svg></g>"),
    (
        "drawing within with a viewBox",
        "<g{T}><svg x='7' y='9' width='42' height='31' viewBox='-2 1 36 36'>{C}</svg></g>",
    ),
    (
        "drawing within a drawing within",
        "<g{T}><svg x='4' y='3' width='48' height='46' viewBox='0 0 60 50'><svg x='9' y='6' width='36' height='34' viewBox='0 0 38 32' preserveAspectRatio='none'>{C}</svg></svg></g>",
    ),
    (
        "clipped group",
        "<clipPath id='c'><rect x='6' y='7' width='25' height='24'/></clipPath><g clip-path='url(#c)'{T}>{C}</g>",
    ),
    (
        "clipped in a group",
        "<clipPath id='c'><circle cx='20' cy='19' r='15'/></clipPath><g{T}><g clip-path='url(#c)'>{C}</g></g>",
    ),
    (
        "clip path with a transform",
        "<clipPath id='c'{T}><rect x='-40' y='-20' width='70' height='52'/></clipPath><g clip-path='url(#c)' transform='translate(22 13) scale(1.6)'>{C}</g>",
    ),
    (
        "clip path whose shape has a transform",
        "<clipPath id='c' transform='translate(3 1)'><path d='M-42 -20H33L20 37Z'{T}/></clipPath><g clip-path='url(#c)' transform='rotate(7) scale(1.7)'>{C}</g>",
    ),
    (
        "clip path of a copy",
        "<defs><path id='p' d='M-42 -20H33L20 37Z'/></defs><clipPath id='c'><use href='#p' x='4' y='3'{T}/></clipPath><g clip-path='url(#c)' transform='translate(8 9) scale(1.6)'>{C}</g>",
    ),
    (
        "clip path on a copy",
        "<defs><g id='m'>{C}</g></defs><clipPath id='c'><rect x='6' y='9' width='25' height='24'/></clipPath><use href='#m' x='13' y='8' clip-path='url(#c)'{T}/>",
    ),
    (
        "clip path on a copy of a symbol",
        "<symbol id='m' viewBox='0 0 38 38'>{C}</symbol><clipPath id='c'><circle cx='21' cy='21' r='17'/></clipPath><use href='#m' width='44' height='37' clip-path='url(#c)'{T}/>",
    ),
    (
        "clip path cut by a clip path",
        "<clipPath id='d'><circle cx='17' cy='22' r='15'/></clipPath><clipPath id='c' clip-path='url(#d)' transform='translate(3 -2)'><rect x='5' y='5' width='29' height='26'/></clipPath><g clip-path='url(#c)'{T}>{C}</g>",
    ),
    (
        "clip path by the box",
        "<clipPath id='c' clipPathUnits='objectBoundingBox'><path d='M.1 0H.8L1 .7L.4 1Z'/></clipPath><g clip-path='url(#c)'{T}>{C}</g>",
    ),
    (
        "clip path by the box of a copy",
        "<defs><path id='m' fill='#ff0000' d='M4 4H28V10H10V16H22V22H10V36H4Z'/></defs><clipPath id='c' clipPathUnits='objectBoundingBox' transform='rotate(4)'><circle cx='.5' cy='.4' r='.45' transform='scale(1 .9)'/></clipPath><use href='#m' x='12' y='9' clip-path='url(#c)'{T}/>",
    ),
    (
        "clipped in what is clipped",
        "<clipPath id='c'><rect x='5' y='2' width='28' height='33'/></clipPath><clipPath id='d'><circle cx='21' cy='17' r='14'/></clipPath><g clip-path='url(#c)'{T}><g clip-path='url(#d)' transform='translate(2 4) rotate(11)'>{C}</g></g>",
    ),
    (
        "strokes",
        "<g{T} fill='none' stroke-width='4'><path stroke='#ff0000' stroke-linecap='round' d='M6 8C20 2 30 12 27 25'/><path stroke='#0000ff' stroke-linejoin='bevel' d='M8 34L18 18L22 36'/><circle stroke='#00aa00' stroke-width='2.4' cx='36' cy='31' r='6'/></g>",
    ),
];

/// Drawings of which one is enough, or whose variants are no transform.
const SINGLES: [(&str, &str); 53] = [
    (
        "a symbol's aspect: none",
        "<symbol id='m' viewBox='0 0 40 40' preserveAspectRatio='none'>{C}</symbol><use href='#m' x='10' y='20' width='90' height='50' transform='rotate(6)'/>",
    ),
    (
        "a symbol's aspect: xMinYMin meet",
        "<symbol id='m' viewBox='0 0 40 40' preserveAspectRatio='xMinYMin meet'>{C}</symbol><use href='#m' x='10' y='20' width='90' height='50' transform='rotate(6)'/>",
    ),
    (
        "a symbol's aspect: xMaxYMid",
        "<symbol id='m' viewBox='0 0 40 40' preserveAspectRatio='xMaxYMid'>{C}</symbol><use href='#m' x='10' y='20' width='90' height='50' transform='rotate(6)'/>",
    ),
    (
        "a symbol's aspect: xMidYMin slice",
        "<symbol id='m' viewBox='0 0 40 40' preserveAspectRatio='xMidYMin slice'>{C}</symbol><use href='#m' x='10' y='20' width='90' height='50' transform='rotate(6)'/>",
    ),
    (
        "a symbol's aspect: xMaxYMax slice",
        "<symbol id='m' viewBox='0 0 40 40' preserveAspectRatio='xMaxYMax slice'>{C}</symbol><use href='#m' x='20' y='10' width='50' height='90' transform='skewX(6)'/>",
    ),
    (
        "a drawing within: none",
        "<svg x='10' y='20' width='90' height='50' viewBox='0 0 40 40' preserveAspectRatio='none'>{C}</svg>",
    ),
    (
        "a drawing within: xMinYMid slice",
        "<svg x='10' y='20' width='90' height='50' viewBox='0 0 40 40' preserveAspectRatio='xMinYMid slice'>{C}</svg>",
    ),
    (
        "a drawing within that shows all",
        "<svg x='30' y='20' width='50' height='40' viewBox='10 10 15 15' overflow='visible'>{C}</svg>",
    ),
    (
        "a drawing within that shows all by its style",
        "<svg x='30' y='20' width='50' height='40' viewBox='10 10 15 15' style='overflow:visible'>{C}</svg>",
    ),
    (
        "a symbol that shows all by its style",
        "<symbol id='m' viewBox='10 10 15 15' style='overflow:visible'>{C}</symbol><use href='#m' x='30' y='20' width='50' height='40' transform='rotate(3)'/>",
    ),
    (
        "a symbol that hides by scroll",
        "<symbol id='m' viewBox='8 8 22 22' overflow='scroll'>{C}</symbol><use href='#m' x='30' y='20' width='50' height='40' transform='rotate(3)'/>",
    ),
    (
        "a symbol that shows by auto",
        "<symbol id='m' viewBox='8 8 22 22' overflow='auto'>{C}</symbol><use href='#m' x='30' y='20' width='50' height='40' transform='rotate(3)'/>",
    ),
    (
        "a drawing within in percent",
        "<svg x='10%' y='20%' width='50%' height='40%' viewBox='0 0 40 40'>{C}</svg>",
    ),
    ("a drawing within without height", "<svg x='20' y='10' width='50' viewBox='0 0 40 40'>{C}</svg>"),
    ("a drawing within without size", "<svg x='20' y='10' viewBox='0 0 80 70'>{C}</svg>"),
    (
        "a drawing within without viewBox or size",
        "<svg x='20' y='10'><g transform='scale(2.9)'>{C}</g></svg>",
    ),
    (
        "percent within a drawing within",
        "<svg x='10' y='20' width='80' height='60'><rect fill='#ff0000' x='10%' y='5%' width='50%' height='25%'/><circle fill='#0000ff' cx='60%' cy='65%' r='20%'/></svg>",
    ),
    (
        "percent within a viewBox",
        "<svg x='10' y='20' width='80' height='60' viewBox='0 0 50 50'><rect fill='#ff0000' x='10%' y='5%' width='50%' height='25%'/><ellipse fill='#0000ff' cx='60%' cy='65%' rx='20%' ry='10%'/></svg>",
    ),
    (
        "percent within a copied symbol",
        "<symbol id='m'><rect fill='#ff0000' x='10%' y='5%' width='60%' height='45%'/></symbol><use href='#m' x='15' y='10' width='70' height='80' transform='rotate(5)'/>",
    ),
    (
        "a copied symbol in percent",
        "<symbol id='m' viewBox='0 0 40 40'>{C}</symbol><use href='#m' x='10%' y='25%' width='60%' height='50%'/>",
    ),
    (
        "a symbol copied twice",
        "<symbol id='m' viewBox='0 0 30 38'>{C}</symbol><use href='#m' width='50' height='50' transform='translate(4 8) rotate(4)'/><use href='#m' width='40' height='60' transform='translate(60 50) scale(1.1 .8)'/>",
    ),
    (
        "a symbol copied by width alone",
        "<symbol id='m' viewBox='0 0 40 40'>{C}</symbol><use href='#m' width='70' transform='translate(9 -12)'/>",
    ),
    (
        "a symbol whose content is clipped",
        "<clipPath id='c'><circle cx='20' cy='20' r='14'/></clipPath><symbol id='m' viewBox='0 0 40 30'><g clip-path='url(#c)' transform='rotate(8)'>{C}</g></symbol><use href='#m' x='10' y='20' width='90' height='50' transform='scale(1.1 .9)'/>",
    ),
    (
        "a clipped drawing within",
        "<clipPath id='c'><circle cx='50' cy='45' r='30'/></clipPath><svg x='10' y='20' width='90' height='70' viewBox='0 0 40 40' clip-path='url(#c)'>{C}</svg>",
    ),
    (
        "origin of a transform",
        "<g transform='rotate(30)' transform-origin='40 30'><g transform='translate(20 20)'>{C}</g></g>",
    ),
    (
        "origin of a transform in percent",
        "<g transform='rotate(30) scale(1.2)' transform-origin='50% 50%'><g transform='translate(30 30)'>{C}</g></g>",
    ),
    (
        "origin of a copy's transform",
        "<defs><g id='m'>{C}</g></defs><use href='#m' x='20' y='30' transform='rotate(-25) scale(1.5)' transform-origin='40 50'/>",
    ),
    (
        "origin by the style",
        "<g style='transform-origin:40px 30px' transform='rotate(30)'><g transform='translate(20 20)'>{C}</g></g>",
    ),
    ("transform by the style", "<g style='transform:translate(20px,12px) rotate(15deg) scale(1.4)'>{C}</g>"),
    (
        "transform by the style, other units",
        "<g style='transform:translateX(1in) translateY(5mm) rotate(.1turn) scaleY(.8) skew(10deg, 5deg)'>{C}</g>",
    ),
    (
        "transform by a sheet",
        "<style>.m { transform: translate(20px, 12px) rotate(0.3rad) } #n{transform:matrix(1,0,.2,1,5,3)}</style><g class='m'><g id='n'>{C}</g></g>",
    ),
    (
        "transform by the style over the attribute",
        "<g transform='scale(3)' style='transform:translate(30px,40px)'>{C}</g>",
    ),
    (
        "clip path by the style",
        "<clipPath id='c'><circle cx='24' cy='22' r='16'/></clipPath><g style='clip-path:url(#c)' transform='scale(2) rotate(5)'>{C}</g>",
    ),
    (
        "clip path by evenodd",
        "<clipPath id='c'><path clip-rule='evenodd' d='M2 2H38V38H2ZM10 8H30V30H10Z'/></clipPath><g clip-path='url(#c)' transform='scale(2.4) rotate(5)'>{C}</g>",
    ),
    (
        "clip path of text-free parts, one clipped",
        "<clipPath id='d'><rect x='20' y='0' width='20' height='24'/></clipPath><clipPath id='c'><rect x='3' y='3' width='16' height='20'/><circle cx='26' cy='26' r='13' clip-path='url(#d)'/></clipPath><g clip-path='url(#c)' transform='scale(2.4) rotate(5)'>{C}</g>",
    ),
    (
        "clip path of a hidden part",
        "<clipPath id='c'><rect x='3' y='3' width='16' height='20'/><circle cx='26' cy='26' r='13' visibility='hidden'/><rect x='22' y='3' width='9' height='9' display='none'/></clipPath><g clip-path='url(#c)' transform='scale(2.4) rotate(5)'>{C}</g>",
    ),
    (
        "length units",
        "<rect fill='#ff0000' x='9mm' y='.5in' width='3cm' height='40pt'/><circle fill='#0000ff' cx='20pc' cy='60' r='40q'/>",
    ),
    (
        "nested evenodd and nonzero",
        "<g transform='scale(2) skewY(7)'><path fill='#ff0000' fill-rule='evenodd' d='M3 3H27V27H3ZM9 9H21V21H9Z'/><path fill='#0000ff' d='M30 3H54V27H30ZM36 9H48V21H36Z'/></g>",
    ),
    (
        "a drawing within with a transform",
        "<svg x='10' y='20' width='60' height='50' viewBox='0 0 36 36' transform='rotate(8) scale(1.1)'>{C}</svg>",
    ),
    (
        "a copied symbol in percent in a drawing within",
        "<symbol id='m' viewBox='0 0 40 40'>{C}</symbol><svg x='8' y='9' width='90' height='80'><use href='#m' x='10%' y='5%' width='70%' height='80%'/></svg>",
    ),
    (
        "a copied symbol in percent in a viewBox",
        "<symbol id='m' viewBox='0 0 40 40'>{C}</symbol><svg width='110' height='100' viewBox='0 0 60 60'><use href='#m' x='10%' y='5%' width='70%' height='80%' transform='skewX(4)'/></svg>",
    ),
    ("a copy in percent", "<defs><g id='m'>{C}</g></defs><use href='#m' x='25%' y='40%'/>"),
    (
        "a drawing within copied in percent",
        "<defs><svg id='m' viewBox='0 0 40 40'>{C}</svg></defs><use href='#m' x='10%' y='20%' width='75%' height='50%'/>",
    ),
    (
        "lengths by the style",
        "<rect style='x:12px;y:9px;width:40px;height:70px;rx:6px' fill='#ff0000'/><circle fill='#0000ff' r='3' style='cx:80px;cy:50px;r:22px'/><ellipse fill='#00aa00' cx='50' cy='100' style='rx:30px;ry:9px'/>",
    ),
    (
        "a drawing within placed by the style",
        "<svg style='x:15px;y:12px;width:70px;height:60px' viewBox='0 0 40 40'>{C}</svg>",
    ),
    (
        "hidden by a sheet",
        "<style>.h{visibility:hidden} .d{display:none} .o{opacity:0}</style><g transform='scale(2)'>{C}</g><rect class='h' width='90' height='20'/><rect class='d' width='90' height='20'/><g class='o'><rect width='90' height='20'/></g>",
    ),
    (
        "shown within what is hidden",
        "<g visibility='hidden'><rect width='90' height='20' fill='#ff0000'/><g visibility='visible' transform='scale(2)'>{C}</g></g>",
    ),
    (
        "a clipped copy of a clipped symbol, mirrored",
        "<clipPath id='c'><circle cx='50' cy='50' r='36'/></clipPath><symbol id='m' viewBox='0 0 30 36'>{C}</symbol><g transform='matrix(-1 0 0 1 118 0)' clip-path='url(#c)'><use href='#m' x='10' y='10' width='80' height='80' transform='rotate(10 50 50)'/></g>",
    ),
    (
        "clip path by the box, of a group with a stroke",
        "<clipPath id='c' clipPathUnits='objectBoundingBox'><circle cx='.5' cy='.5' r='.5'/></clipPath><g transform='scale(2.5 2)' clip-path='url(#c)'>{C}</g>",
    ),
    (
        "clip path on what is drawn twice",
        "<clipPath id='c'><rect x='4' y='8' width='22' height='24'/></clipPath><defs><g id='m' clip-path='url(#c)'>{C}</g></defs><use href='#m' transform='scale(2)'/><use href='#m' x='60' y='70' transform='rotate(5)'/>",
    ),
    (
        "clip path of a copy that is turned",
        "<defs><path id='p' d='M2 2H33L20 37Z' transform='rotate(10)'/></defs><clipPath id='c'><use href='#p' x='3' y='-2' transform='scale(1.2)'/></clipPath><g clip-path='url(#c)' transform='scale(2.3)'>{C}</g>",
    ),
    (
        "a pattern as artwork",
        "<pattern id='p' width='8' height='8' patternUnits='userSpaceOnUse'><rect width='8' height='8' fill='#ff0000'/></pattern><g transform='rotate(9)'><path fill='url(#p)' d='M30 10H100V90H60Z'/></g>",
    ),
    (
        "a link to a symbol by xlink",
        "<symbol id='m' viewBox='0 0 40 40'>{C}</symbol><use xmlns:xlink='http://www.w3.org/1999/xlink' xlink:href='#m' width='80' height='90' transform='translate(20 10)'/>",
    ),
];

/// Drawings whose page is not the plain one: the attributes of the outermost element, and the content.
const PAGES: [(&str, &str, &str); 8] = [
    ("page with a shifted viewBox", "width='120mm' height='120mm' viewBox='-7 -4 60 60'", "{C}"),
    ("page wider than its viewBox", "width='120mm' height='120mm' viewBox='0 0 45 60'", "{C}"),
    (
        "page that stretches",
        "width='120mm' height='120mm' viewBox='2 1 45 60' preserveAspectRatio='none'",
        "{C}",
    ),
    (
        "page at the right end",
        "width='120mm' height='120mm' viewBox='0 0 45 60' preserveAspectRatio='xMaxYMin'",
        "{C}",
    ),
    (
        "page in percent of a viewBox",
        "width='120mm' height='120mm' viewBox='0 0 60 40' preserveAspectRatio='xMidYMin'",
        "<rect fill='#ff0000' x='10%' y='5%' width='50%' height='25%'/><circle fill='#0000ff' cx='60%' cy='65%' r='20%'/>",
    ),
    (
        "page with a symbol over its whole",
        "width='120mm' height='120mm' viewBox='5 5 60 60'",
        "<symbol id='m' viewBox='0 0 40 40'>{C}</symbol><use href='#m'/>",
    ),
    (
        "page with a drawing within in percent",
        "width='120mm' height='120mm' viewBox='5 5 80 60'",
        "<svg width='80%' height='70%' viewBox='0 0 40 40'>{C}</svg>",
    ),
    ("page without a viewBox", "width='120mm' height='120mm'", "<g transform='scale(7.5)'>{C}</g>"),
];

/// Drawings that ask for what is not followed, and words of the caution that says so.
const TOLD: [(&str, &str, &str); 24] = [
    (
        "a symbol with a reference point",
        "<symbol id='m' viewBox='0 0 40 40' refX='20' refY='20'>{C}</symbol><use href='#m' x='60' y='60' width='40' height='40'/>",
        "its refX \"20\"",
    ),
    (
        "a symbol with a size of its own",
        "<symbol id='m' viewBox='0 0 40 40' width='60' height='70'>{C}</symbol><use href='#m'/>",
        "its width \"60\"",
    ),
    (
        "a transform about the shape's own box",
        "<g style='transform-box:fill-box;transform-origin:50% 50%' transform='rotate(40)'>{C}</g>",
        "its transform-box \"fill-box\"",
    ),
    (
        "a stroke that does not scale",
        "<path d='M5 5L20 20' stroke='#ff0000' vector-effect='non-scaling-stroke' transform='scale(4)'/>",
        "its vector-effect",
    ),
    (
        "a clip path by a shape of CSS",
        "<g style='clip-path:circle(10px at 20px 20px)'>{C}</g>",
        "its clip-path \"circle(10px",
    ),
    ("a turn of its own", "<g style='rotate:30deg'>{C}</g>", "its rotate \"30deg\""),
    (
        "a sheet for wide screens",
        "<style>@media screen and (min-width:9px){g{transform:translate(20px,10px)}}</style><g>{C}</g>",
        "the style sheet's \"@media screen and (min-width:9px)\"",
    ),
    (
        "a sheet in layers",
        "<style>@layer a{g{transform:translate(20px,10px)}}</style><g>{C}</g>",
        "the style sheet's \"@layer a\"",
    ),
    (
        "a sheet for those who know something",
        "<style>@supports (x:1px){g{transform:translate(20px,10px)}}</style><g>{C}</g>",
        "the style sheet's \"@supports (x:1px)\"",
    ),
    (
        "a sheet from elsewhere",
        "<style>@import 'moved.css';</style><g>{C}</g>",
        "the style sheet's \"@import 'moved.css'\"",
    ),
    (
        "rules within rules",
        "<style>svg{ g{transform:translate(20px,10px)} }</style><g>{C}</g>",
        "sets for g within svg",
    ),
    ("a parent by its child", "<style>g:has(path){opacity:0}</style><g>{C}</g>", "sets for g:has(path)"),
    (
        "a value that stands elsewhere",
        "<style>:root{--c:none} path{fill:var(--c)}</style><g>{C}</g>",
        "its fill \"var(--c)\"",
    ),
    (
        "a mask as a picture",
        "<style>g{mask-image:url(#k)}</style><mask id='k'/><g>{C}</g>",
        "its mask-image \"url(#k)\"",
    ),
    (
        "a sheet that moves things",
        "<style>@keyframes k{to{opacity:0}} g{animation:k 1s forwards}</style><g>{C}</g>",
        "its animation \"k 1s forwards\"",
    ),
    (
        "what moves by itself",
        "<rect width='9' height='9'><animate attributeName='width' to='40' dur='1s' fill='freeze'/></rect>",
        "its animate of width",
    ),
    (
        "what is set as time goes by",
        "<rect id='r' width='9' height='9'/><set href='#r' attributeName='width' to='40'/>",
        "r (its set of width)",
    ),
    (
        "a filter that moves",
        "<filter id='f'><feOffset dx='20' dy='20'/></filter><g filter='url(#f)'>{C}</g>",
        "have a filter that moves them",
    ),
    (
        "a filter that thickens",
        "<filter id='f'><feMorphology operator='dilate' radius='4'/></filter><g filter='url(#f)'>{C}</g>",
        "have a filter that moves them",
    ),
    (
        "a filter whose region cuts",
        "<filter id='f' x='0' y='0' width='.5' height='1'><feGaussianBlur stdDeviation='1'/></filter><g filter='url(#f)'>{C}</g>",
        "have a filter that moves them",
    ),
    (
        "a mask",
        "<mask id='k'><circle cx='20' cy='20' r='12' fill='#fff'/></mask><g mask='url(#k)' transform='scale(2)'>{C}</g>",
        "are masked",
    ),
    (
        "a transform in ems",
        "<g style='transform:translate(2em,0)'>{C}</g>",
        "its transform \"translate(2em,0)\"",
    ),
    (
        "percent in a symbol without viewBox",
        "<symbol id='n' viewBox='0 0 40 40'>{C}</symbol><symbol id='m'><use href='#n' width='50%' height='70'/></symbol><use href='#m' width='80' height='80'/>",
        "its width \"50%\"",
    ),
    (
        "a transform about the corner of the shape's own box",
        "<g transform='rotate(40)' transform-box='fill-box'>{C}</g>",
        "its transform-box \"fill-box\"",
    ),
];

/// All drawings in a fixed order.
pub fn all() -> Vec<Small> {
    let page = "width='120mm' height='120mm' viewBox='0 0 90 90'";
    let mut all = Vec::new();
    let mut add = |name: String, root: &str, body: &str, told| {
        let body = body.replace("{C}", MOTIF);
        let svg = format!("<svg xmlns='http://www.w3.org/2000/svg' {root}>{body}</svg>\n");
        all.push(Small { name, svg, told });
    };
    for (container, body) in CONTAINERS {
        for (map, transform) in MAPS {
            let attribute =
                if transform.is_empty() { String::new() } else { format!(" transform='{transform}'") };
            add(format!("{container}, {map}"), page, &body.replace("{T}", &attribute), None);
        }
    }
    for (name, body) in SINGLES {
        add(name.to_owned(), page, body, None);
    }
    for (name, root, body) in PAGES {
        add(name.to_owned(), root, body, None);
    }
    for (name, body, told) in TOLD {
        add(name.to_owned(), page, body, Some(told));
    }
    all
}
