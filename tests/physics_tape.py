"""What the simulated person measures with a tape and a level, and types."""

from physics_model import BALL


def typed_geometry(parameters, rng):
    """What a person typed, `(participant, set-ups)`: truth plus the error of a tape (cm) and a level (deg)."""
    person = parameters.person

    def measured(values):
        return {
            key: value + rng.normal(0.0, parameters.tape_sd_deg if key.endswith("_deg") else parameters.tape_sd_cm)
            for key, value in values.items()
        }

    lengths = person.lengths
    true_person = {
        "thigh_length_cm": 100.0 * lengths.thigh,
        "shank_length_cm": 100.0 * lengths.shank,
        "ball_to_ankle_cm": float(100.0 * BALL[0]),  # along the sole
        "hip_width_cm": 200.0 * lengths.hip_half_width,
    }
    true_setups = []
    for setup in parameters.setups:
        true_setups.append(
            {
                # The hip centres stand 8 cm above the loaded seat (our assumption, no source).
                "throne_height_cm": float(100.0 * person.hip_height_m) + setup.seat_change_cm - 8.0,
                "reach_cm": setup.reach_cm,
                "spacing_cm": setup.spacing_cm,
                "footboard_pitch_deg": setup.pitch_deg,
                "foot_splay_deg": setup.splay_deg,
            }
        )
    names = [setup.name for setup in parameters.setups]
    typed_person, typed_setups = measured(true_person), [measured(values) for values in true_setups]
    if not parameters.with_tape:
        typed_person, typed_setups = {}, [{} for _ in names]
    return (
        {"id": f"seed-{parameters.seed}"} | typed_person,
        [{"name": name} | values for name, values in zip(names, typed_setups, strict=True)],
        [{"name": name} | values for name, values in zip(names, true_setups, strict=True)],
    )
