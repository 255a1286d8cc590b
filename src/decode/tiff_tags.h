// Tags of TIFF 6.0, TIFF/EP and the DNG specification 1.4, except where said.
#pragma once
#include <cstdint>

namespace burstsieve::decode {

enum TiffTag : std::uint16_t {
  kPanasonicJpeg = 46,  // exiftool's PanasonicRaw table: JpgFromRaw
  kNewSubfileType = 254,
  kImageWidth = 256,
  kImageLength = 257,
  kBitsPerSample = 258,
  kCompression = 259,
  kPhotometric = 262,
  kFillOrder = 266,
  kMake = 271,
  kStripOffsets = 273,
  kSamplesPerPixel = 277,
  kRowsPerStrip = 278,
  kStripByteCounts = 279,
  kTileWidth = 322,
  kTileLength = 323,
  kTileOffsets = 324,
  kTileByteCounts = 325,
  kSubIfds = 330,
  kSampleFormat = 339,
  kJpegOffset = 513,
  kJpegSize = 514,
  kCfaRepeatPatternDim = 33421,
  kCfaPattern = 33422,
  kDngVersion = 50706,
  kCfaPlaneColor = 50710,
  kCfaLayout = 50711,
  kLinearizationTable = 50712,
  kBlackLevelRepeatDim = 50713,
  kBlackLevel = 50714,
  kBlackLevelDeltaH = 50715,
  kBlackLevelDeltaV = 50716,
  kWhiteLevel = 50717,
  kDefaultCropOrigin = 50719,
  kDefaultCropSize = 50720,
  kAnalogBalance = 50727,
  kAsShotNeutral = 50728,
  kActiveArea = 50829,
  kRowInterleaveFactor = 50975,
  kNoiseProfile = 51041,
};

// Values of kPhotometric.
constexpr std::uint32_t kPhotometricCfa = 32803;        // TIFF/EP
constexpr std::uint32_t kPhotometricLinearRaw = 34892;  // DNG 1.4

}  // namespace burstsieve::decode
