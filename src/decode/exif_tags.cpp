#include "burstsieve/decode/exif_tags.h"

#include <algorithm>
#include <cmath>
#include <exiv2/exiv2.hpp>
#include <limits>
#include <map>
#include <utility>

#include "burstsieve/base/text.h"

namespace burstsieve::decode {
namespace {

// A tag the makers ask for has at most a few thousand components (Canon: 1053 AF points); more is an attack
// on memory or a whole preview.
constexpr long kMaxComponents = 65'536;

class Exiv2Tags final : public camera::TagView {
 public:
  explicit Exiv2Tags(Exiv2::ExifData from) : data_(std::move(from)) {
    for (const Exiv2::Exifdatum& d : data_) {
      // key() is stored, tagName() is looked up in long tables.
      const std::string key = d.key();  // "Exif.Group.Tag"
      const std::string_view prefix = "Exif.";
      // Of several with one name the first counts.
      if (key.starts_with(prefix)) index_.emplace(key.substr(prefix.size()), &d);
    }
  }

  std::optional<std::vector<std::int64_t>> ints(std::string_view key) const override {
    const Exiv2::Exifdatum* d = find(key);
    if (d == nullptr || !integral(*d)) return std::nullopt;
    return guarded<std::vector<std::int64_t>>([&] {
      std::vector<std::int64_t> out;
      for (long i = 0; i < d->count(); ++i) out.push_back(component(*d, i));
      return out;
    });
  }

  std::optional<std::vector<double>> numbers(std::string_view key) const override {
    const Exiv2::Exifdatum* d = find(key);
    if (d == nullptr || d->typeId() == Exiv2::asciiString) return std::nullopt;
    if (integral(*d)) {
      const auto whole = ints(key);
      if (!whole) return std::nullopt;
      return std::vector<double>(whole->begin(), whole->end());
    }
    std::vector<double> out;
    for (long i = 0; i < d->count(); ++i) {
      const auto v = number(*d, i);
      if (!v) return std::nullopt;
      out.push_back(*v);
    }
    return out;
  }

  std::optional<std::string> text(std::string_view key) const override {
    const Exiv2::Exifdatum* d = find(key);
    if (d == nullptr) return std::nullopt;
    return guarded<std::string>([&] {
      if (d->typeId() != Exiv2::undefined && d->typeId() != Exiv2::unsignedByte)
        return trimmed(d->toString());
      // Text stored as bytes (Panasonic serial number): up to the first NUL.
      std::string out;
      for (const std::uint8_t b : raw(*d)) {
        if (b == 0) break;
        out += static_cast<char>(b);
      }
      return trimmed(out);
    });
  }

  std::optional<std::vector<std::uint8_t>> bytes(std::string_view key) const override {
    const Exiv2::Exifdatum* d = find(key);
    if (d == nullptr) return std::nullopt;
    return guarded<std::vector<std::uint8_t>>([&] { return raw(*d); });
  }

 private:
  const Exiv2::Exifdatum* find(std::string_view key) const {
    const auto at = index_.find(key);
    if (at == index_.end() || at->second->count() <= 0 || at->second->count() > kMaxComponents)
      return nullptr;
    return at->second;
  }

  static bool integral(const Exiv2::Exifdatum& d) {
    switch (d.typeId()) {
      case Exiv2::unsignedByte:
      case Exiv2::signedByte:
      case Exiv2::undefined:
      case Exiv2::unsignedShort:
      case Exiv2::signedShort:
      case Exiv2::unsignedLong:
      case Exiv2::signedLong:
      case Exiv2::tiffIfd:
        return true;
      default:
        return false;
    }
  }

  // exiv2 hands 32-bit values out as long, which holds them here; asserted, not assumed.
  static std::int64_t component(const Exiv2::Exifdatum& d, long i) {
    static_assert(sizeof(long) == 8);
    return d.toLong(i);
  }

  static std::optional<double> number(const Exiv2::Exifdatum& d, long i) {
    const auto v = guarded<double>([&]() -> double {
      if (d.typeId() == Exiv2::unsignedRational) {
        const auto* value = dynamic_cast<const Exiv2::URationalValue*>(&d.value());
        if (value == nullptr || static_cast<std::size_t>(i) >= value->value_.size())
          return std::numeric_limits<double>::quiet_NaN();
        const Exiv2::URational r = value->value_[static_cast<std::size_t>(i)];
        return r.second == 0 ? std::numeric_limits<double>::quiet_NaN()
                             : static_cast<double>(r.first) / static_cast<double>(r.second);
      }
      if (d.typeId() == Exiv2::signedRational) {
        const Exiv2::Rational r = d.toRational(i);
        return r.second == 0 ? std::numeric_limits<double>::quiet_NaN()
                             : static_cast<double>(r.first) / static_cast<double>(r.second);
      }
      return static_cast<double>(d.toFloat(i));
    });
    if (!v || !std::isfinite(*v)) return std::nullopt;
    return v;
  }

  static std::vector<std::uint8_t> raw(const Exiv2::Exifdatum& d) {
    if (d.size() <= 0 || d.size() > kMaxComponents * 8) return {};
    std::vector<std::uint8_t> out(static_cast<std::size_t>(d.size()));
    const long copied = d.copy(out.data(), Exiv2::littleEndian);
    out.resize(static_cast<std::size_t>(std::clamp<long>(copied, 0, d.size())));
    return out;
  }

  template <class T, class F>
  static std::optional<T> guarded(F f) {
    try {
      return f();
    } catch (...) {
      return std::nullopt;
    }
  }

  Exiv2::ExifData data_;
  std::map<std::string, const Exiv2::Exifdatum*, std::less<>> index_;
};

LoadedTags load(Exiv2::BasicIo* io) {
  LoadedTags out;
  Exiv2Gate gate;
  try {
    Exiv2::BasicIo::AutoPtr owned(io);
    const auto image = Exiv2::ImageFactory::open(owned);
    if (image.get() == nullptr) {
      out.failure = "not a file the metadata reader knows";
    } else if (std::string(image->mimeType()).starts_with("video/")) {
      out.failure = "a film, not a photograph";  // exiv2 reads them, and loops for ever in damaged ones
    } else {
      try {
        image->readMetadata();
      } catch (const std::exception& e) {
        out.failure = one_line(e.what());
      }
      out.jpeg = image->imageType() == Exiv2::ImageType::jpeg;
      out.preview_only = image->imageType() == Exiv2::ImageType::raf;
      out.pixels = {image->pixelWidth(), image->pixelHeight()};
      out.count = static_cast<std::size_t>(std::max<long>(0, image->exifData().count()));
      out.complaints = gate.take_complaints();
      out.tags = std::make_unique<Exiv2Tags>(std::move(image->exifData()));
    }
  } catch (const std::exception& e) {
    out.failure = one_line(e.what());
  } catch (...) {
    out.failure = "the metadata reader failed";
  }
  if (!out.tags) out.tags = std::make_unique<Exiv2Tags>(Exiv2::ExifData());
  return out;
}

}  // namespace

LoadedTags load_tags(Bytes bytes) {
  return load(new Exiv2::MemIo(bytes.data(), static_cast<long>(bytes.size())));
}

// FileIo and not the factory's path overload: that one takes names such as "http:..." or "-" for something
// else than a file.
LoadedTags load_tags(const std::string& path) {
  return load(new Exiv2::FileIo(path));
}

}  // namespace burstsieve::decode
