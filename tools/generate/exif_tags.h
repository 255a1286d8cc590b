// The directories shared by JPEG and DNG. Tag numbers: Exif 2.32 section 4.6.
#pragma once
#include "files.h"
#include "tiff.h"

namespace burstsieve::generate {

Directory image_directory(const Exif& exif);  // IFD0; tag 0x8769 (Exif directory) holds 0
Directory exif_directory(const Exif& exif);

}  // namespace burstsieve::generate
