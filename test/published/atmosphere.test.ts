// Standard atmosphere: tables of ICAO Doc 7488 / ISO 2533. Moist air: WMO-No. 8, Annex 4.B;
// second opinion: Alduchov and Eskridge 1996.
import { describe, expect, it } from 'vitest';
import {
  dewPointC,
  geopotentialHeightM,
  relativeHumidityPct,
  saturationVapourHpa,
  standardPressurePa,
} from '../../sim/tracker/atmosphere.ts';

describe('standard atmosphere', () => {
  it.each([
    [0, 101_325],
    [500, 95_460.84],
    [1000, 89_874.57],
    [2000, 79_495.21],
    [5000, 54_019.9],
    [11_000, 22_632.06],
  ])('%i m geopotential: %f Pa', (heightM, pressurePa) => {
    expect(Math.abs(standardPressurePa(heightM) - pressurePa)).toBeLessThan(0.02);
  });

  it.each([
    [500, 95_461.29],
    [2000, 79_501.42],
    [5000, 54_048.29],
    [11_000, 22_699.96],
  ])('%i m geometric: %f Pa', (altM, pressurePa) => {
    expect(Math.abs(standardPressurePa(geopotentialHeightM(altM)) - pressurePa)).toBeLessThan(0.02);
  });

  it('above the tropopause: 5474.9 Pa at 20 km (from memory)', () => {
    expect(Math.abs(standardPressurePa(20_000) - 5474.9)).toBeLessThan(0.1);
    expect(standardPressurePa(11_000.001)).toBeCloseTo(standardPressurePa(11_000), 1);
  });

  it('falls by 12.01 Pa a metre at the sea', () => {
    expect(standardPressurePa(-0.5) - standardPressurePa(0.5)).toBeCloseTo(12.01, 2);
  });
});

describe('moist air', () => {
  it.each([
    [-20, 1.2597, 1.2578],
    [-15, 1.9187, 1.9165],
    [-10, 2.8703, 2.8677],
    [-5, 4.2218, 4.2191],
    [0, 6.112, 6.1094],
    [5, 8.7174, 8.7156],
    [10, 12.2603, 12.2602],
    [15, 17.0167, 17.0198],
    [20, 23.326, 23.3344],
    [25, 31.6006, 31.6174],
    [30, 42.3372, 42.3665],
    [35, 56.1284, 56.1757],
    [40, 73.6746, 73.7472],
    [45, 95.7971, 95.9045],
    [50, 123.4516, 123.6058],
  ])('saturation over water at %i degrees: %f hPa', (tempC, wmo, second) => {
    expect(saturationVapourHpa(tempC)).toBeCloseTo(wmo, 4);
    expect(Math.abs(saturationVapourHpa(tempC) / second - 1)).toBeLessThan(0.002);
  });

  it.each([
    [20, 50, 9.255],
    [25, 60, 16.693],
    [22, 45, 9.515],
    [30, 80, 26.169],
    [0, 50, -9.202],
  ])('dew point of %i degrees, %i percent: %f', (tempC, humidityPct, dewC) => {
    expect(dewPointC(tempC, humidityPct)).toBeCloseTo(dewC, 3);
  });

  it('dew point and humidity undo each other; dry air has no dew point', () => {
    for (const tempC of [-20, 0, 17, 45]) {
      for (const humidityPct of [0.1, 5, 50, 99.9, 100]) {
        const dewC = dewPointC(tempC, humidityPct) ?? Number.NaN;
        expect(dewC).toBeLessThanOrEqual(tempC + 1e-9);
        expect(relativeHumidityPct(tempC, saturationVapourHpa(dewC))).toBeCloseTo(humidityPct, 9);
      }
    }
    expect(dewPointC(20, 0)).toBeNull();
  });
});
