//! What the targets feed: the same functions as `examples/hostile`.

#[path = "../../examples/hostile/chance.rs"]
pub mod chance;
#[path = "../../examples/hostile/feeds.rs"]
pub mod feeds;
#[path = "../../examples/hostile/inputs.rs"]
pub mod inputs;
#[path = "../../examples/hostile/made_up.rs"]
pub mod made_up;
#[path = "../../examples/hostile/program.rs"]
pub mod program;
#[path = "../../examples/hostile/stranger.rs"]
pub mod stranger;
