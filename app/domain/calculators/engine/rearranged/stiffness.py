"""Rearrangements of stiffness, written by rearranging.py: do not edit."""

# fmt: off
# ruff: noqa: ARG005
import math
from collections.abc import Callable

SIDES: tuple[tuple[Callable[..., float], Callable[..., float]], ...] = (
    (lambda density, diameter, frequency, inharmonicity, scale_length, youngs_modulus: inharmonicity, lambda density, diameter, frequency, inharmonicity, scale_length, youngs_modulus: (1/64)*math.pi**2*diameter**2*youngs_modulus/(density*frequency**2*scale_length**4)),
    (lambda deviation, harmonic, inharmonicity: deviation, lambda deviation, harmonic, inharmonicity: 600*math.log(harmonic**2*inharmonicity + 1)/math.log(2)),
    (lambda frequency, harmonic, inharmonicity, partial_frequency: partial_frequency, lambda frequency, harmonic, inharmonicity, partial_frequency: frequency*harmonic*math.sqrt(harmonic**2*inharmonicity + 1)),
)
REARRANGED: dict[tuple[int, str], tuple[Callable[..., float], ...]] = {
    (0, "diameter"): (lambda density, frequency, inharmonicity, scale_length, youngs_modulus: 8*math.sqrt(density)*frequency*math.sqrt(inharmonicity)*scale_length**2/(math.pi*math.sqrt(youngs_modulus)),),
    (0, "inharmonicity"): (lambda density, diameter, frequency, scale_length, youngs_modulus: (1/64)*math.pi**2*diameter**2*youngs_modulus/(density*frequency**2*scale_length**4),),
    (0, "scale_length"): (lambda density, diameter, frequency, inharmonicity, youngs_modulus: (1/4)*math.sqrt(2)*math.sqrt(math.pi)*math.sqrt(diameter)*youngs_modulus**(1/4)/(density**(1/4)*math.sqrt(frequency)*inharmonicity**(1/4)),),
    (0, "youngs_modulus"): (lambda density, diameter, frequency, inharmonicity, scale_length: 64*density*frequency**2*inharmonicity*scale_length**4/(math.pi**2*diameter**2),),
    (1, "deviation"): (lambda harmonic, inharmonicity: 600*math.log(harmonic**2*inharmonicity + 1)/math.log(2),),
    (1, "inharmonicity"): (lambda deviation, harmonic: (2**((1/600)*deviation) - 1)/harmonic**2,),
    (2, "inharmonicity"): (lambda frequency, harmonic, partial_frequency: -1/harmonic**2 + partial_frequency**2/(frequency**2*harmonic**4),),
    (2, "partial_frequency"): (lambda frequency, harmonic, inharmonicity: frequency*harmonic*math.sqrt(harmonic**2*inharmonicity + 1),),
}
