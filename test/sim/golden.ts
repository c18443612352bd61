// SHA-256 of the emission stream of each scenario under its own seed. `npm run golden -- --write` pins them anew.
export const GOLDEN: Readonly<Record<string, string>> = {
  'quiet-day': '08d0be726a92cf515d96c9a364edf371033461e24e7dfe00b2ad4beb6dc0667c',
  'window-sill': '81fef0b42e91a00ce3ff0efe628dda22325ba1b54634e13151a5baf28c0bb1ef',
  'indoor-no-fix': 'b00f26bb480d4718fa88a36ab0313128ea965230f56b6f965ff87a64a53abde9',
  'tunnel-and-upland': '8d18f4f72734f8d4c0b039c7506f715bb6e2ff5da91b4fccd0123583c00e1839',
  'ferry-crossing': 'd1ed8924ccb7e55a6a75c5bc5716df8aff4f69a7a960952d572a5410b2d9efa1',
  'flat-battery': '222480299acfb1f7cb8b25c92032dc598d07804b5f7f1217d55671ca5f746248',
  'clock-unset': '7c9d108620c17af6af0e533b4345f768251b4d03c6fd96504a23815bb898f7d0',
  'duplicate-sends': 'bf278ee2ec7a8481d48a829d350caef177a2487259ec4dcdd2a6260d972d4bd7',
  antimeridian: '8d4b97d337c150deffcf65508915634e4c83391f8f84aeef39f00d36a204a5c7',
  'zero-reef': '12df8d9c36712690a13d13abccc7273849aabfd12e8056e585e876bdbdcf9d3c',
  'awkward-labels': '353414f763438e43c3608917147a69c3adc87cd713175b9f69a1bd4b9627bc79',
  'all-payloads': '4e909323795199f0fd8d4ab8aca998edf8fa50026cadc019790c678ed6ccfdf2',
  'from-the-box': '89575a74ee5d7dd0102e107c32e264fa12c59cd45a5add3853451b73a556ae45',
  'wrong-image': 'afa6e4d9d27658c7fedcd4a5caf8b8f0d1db7b53f343f6b7436312decfb3c99b',
  'every-fault': 'b58443d50f8756579895b60330a240e847b4e96663c1b9fe476e9612558f8b04',
};
