"""Two short sessions in the physics engine that several test files look at."""

from clip_noise import PERFECT
from physics_leg import Person, PhysicsParameters, SetupScript, Strokes

SHORT = PhysicsParameters(
    seed=3,
    errors=PERFECT,
    setups=(SetupScript(playing_s=30.0),),
    ranges=("ankle_dorsiflexion", "hip_internal_rotation"),
)
HEEL_UP = PhysicsParameters(
    seed=4,
    sides=("right", "left"),
    both_at_once=True,
    pelvis_clip=True,
    rate_hz=100.0,
    moves=(),
    ranges=(),
    end_checks=False,
    person=Person(pelvis_yaw_sd_deg=6.0, pelvis_roll_sd_deg=1.0),
    setups=(SetupScript(name="up", playing_s=20.0, technique="heel_up", right=Strokes(amplitude_deg=(10.0, 25.0))),),
)
