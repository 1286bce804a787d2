"""Published formulas on floats or NumPy arrays, and nothing else.

Every function here takes floats or arrays in one code path, returns a float for scalar input,
states its source and its published range, and raises :class:`formulate.errors.RangeError` for a
value outside that range or a NaN: nothing is extrapolated. The two working continuations, of sugars past
their columns and of readings just below zero, are named where they are made (`mixture`, `gauging`); an
answer that does not exist, such as a drink with readings no drink has, is a NaN where the function says so.
Fractions are g/g, densities kg/m3, volumes litres at 20 degrees Celsius unless a temperature is named.

Modules
-------
coefficients, components
    The standards' numbers; what a drink is made of, in one fixed order.
density
    Ethanol-water (OIML R 22) and sucrose-water (ICUMSA SPS-4) densities, and rigorous curvature bounds
    of the specific volume.
solutes
    Fits of single solutes in water: apparent specific volume and refraction.
mixture
    Volume, density and strength of a whole drink from component masses.
refraction
    Refractive index and apparent Brix.
gauging
    Backwards: from density and refractive index to strength and sugar.
strength
    Alcohol by volume and mass fraction.
thermal
    A whole drink's density away from 20 degrees Celsius.
bitterness
    The Ph. Eur. bitterness value scale.
kinetics, extraction
    Rates by temperature, colour lost to heat, coarse bitterness; what plants give up by time and temperature.
enzyme
    Pectin and the enzyme that breaks it; the methanol it can set free.
warming, flash
    How long a jar takes to warm, where spirit vapour can catch fire.
dilution
    What ice melts into a drink while it is stirred, shaken or thrown.
texture, ageing
    Gel, haze, sugar that stays dissolved, body; what age does to dried plants.
numerics
    Refusing what is out of range, Horner's rule, the inverse of an increasing function; a starting value with
    its range, source and confidence.
"""
