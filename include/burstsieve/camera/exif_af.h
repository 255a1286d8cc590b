// The focus area as the Exif standard itself can state it.
#pragma once
#include "burstsieve/camera/tag_view.h"
#include "burstsieve/model/capture.h"

namespace burstsieve::camera {

// Fills capture.af from SubjectArea (Exif 2.32 §4.6.5, tag 0x9214: 2 values = point, 3 = circle with
// diameter, 4 = rectangle about its centre; pixels of the image as stored) or, where that is absent,
// SubjectLocation (0xA214, a point). For files whose maker note says nothing; call it after the maker. Never
// throws.
void read_exif_af(const TagView& tags, Capture& capture);

}  // namespace burstsieve::camera
