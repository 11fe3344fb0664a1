/** The scene that `rowfocus init` writes. */

/**
 * @returns a commented scene of one seven-strip dish that loads and runs as it is; site, film and names are invented
 */
export function sceneTemplate(): string {
  return `# yaml-language-server: $schema=./rowfocus.schema.json
#
# One seven-strip dish over its own receiver. Site, film and names are invented: put in your own.
# The unit of each number is the end of its key. \`rowfocus check\` says what was understood,
# \`rowfocus trace\` where the light goes. Concentrated light burns and ignites; local codes and
# licensed practice decide what may be built and how.

title: My first dish

# Where it stands. Only needed when the sun is given by date and time, and for studies of days.
site:
  name: Tarn Hollow (invented)
  latitude_deg: 34.5
  longitude_deg: -5.2
  height_m: 450
  time_zone: solar # true solar time; or a clock: Africa/Casablanca, +01:00, mean_solar

# Where the sun stands: azimuth from north, clockwise (east 90, south 180), and elevation.
# Or in place of both: date_time: 2026-03-20T12:00:00+01:00
sun:
  azimuth_deg: 180
  elevation_deg: 60
  dni_w_m2: 850
  sunshape:
    kind: circumsolar # or point, disc, limb_darkened, gaussian, table
    circumsolar_ratio: 0.05

# Beam irradiance over days and years; a trace of one moment takes dni_w_m2 from above.
sky:
  kind: hottel # or meinel, or weather from a file: epw, csv
  climate: midlatitude_summer # or tropical, subarctic_summer, midlatitude_winter
  visibility: 23_km # or 5_km: haze
  clearness: 1 # 0.9: a tenth less than the model's clear sky

films:
  roll_a:
    reflectance: 0.84
    soiling_factor: 1 # 0.95: dirt takes 5 %
    ageing_factor: 1
    slope_error_along_mrad: 4 # rms tilt of the surface in the plane along the strip
    slope_error_across_mrad: 5
    specularity_mrad: 1.5 # rms scatter of the reflected light, per axis

dishes:
  seven_strip:
    film: roll_a
    focal_length_along_row_m: 2.0 # east-west for a row that runs east
    focal_length_across_row_m: 2.0 # north-south; the receiver hangs this far above
    strips:
      count: 7
      width_m: 0.14
      length_m: 1.2
      gap_m: 0.02
      direction: along_row # or across_row
      bend: parabola # or circle, straight
      bend_fit: each_strip # or common: all strips alike
    rib: flat # or parabola
    design_tilt_deg: 30 # lean to the south: here the dish looks at the sun above
    tilt_setting_deg: 0 # turn of the mirrors after building; the receiver stays
    receiver:
      kind: cavity # or plate, line_plate, tube
      aperture:
        shape: round # or rectangle with width_m and height_m
        diameter_m: 0.18
      body: # shades and blocks; leave it out for none
        shape: round
        diameter_m: 0.24
        depth_m: 0.2
      faces: dish # or down

rows:
  - name: A
    dish: seven_strip
    dishes: 1 # more than one needs pitch_m
    pitch_m: 1.35
    heading_deg: 90 # the row runs east
    centre_m: [0, 0, 1] # east, north, up

ground:
  height_m: 0

bounce_limit: 4
`;
}
