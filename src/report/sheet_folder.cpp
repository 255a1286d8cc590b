#include <fmt/format.h>

#include <algorithm>
#include <optional>
#include <utility>

#include "burstsieve/base/text.h"
#include "burstsieve/report/own_page.h"
#include "markup.h"
#include "sheet_parts.h"
#include "sheet_pdf.h"

namespace burstsieve::report {
namespace {

constexpr const char* kSheetTitle = "Contact sheet: ";
constexpr std::uint32_t kFolderMode = 0777,
                        kFileMode = 0666;  // what the umask leaves: a sheet is made to be shown

Bytes bytes_of_text(const std::string& text) {
  return {reinterpret_cast<const std::uint8_t*>(text.data()), text.size()};
}

// "page-001.html": of pages and their pictures' folders, which may have more digits.
bool is_numbered(const std::string& name, std::string_view before, std::string_view after) {
  if (name.size() < before.size() + after.size() + 3 || !name.starts_with(before) || !name.ends_with(after))
    return false;
  const auto digits =
      std::string_view(name).substr(before.size(), name.size() - before.size() - after.size());
  return digits.find_first_not_of("0123456789") == std::string_view::npos;
}

Status remove_matching(FileSystem& fs, const std::string& folder, std::string_view before,
                       const std::vector<std::string_view>& afters) {
  const auto names = fs.list(folder);
  if (!names) return names.error();
  for (const std::string& name : *names)
    if (std::any_of(afters.begin(), afters.end(),
                    [&](std::string_view a) { return is_numbered(name, before, a); }))
      if (auto s = fs.remove(folder + "/" + name); !s) return s;
  return Done{};
}

// Pages and pictures of an older sheet, and nothing else.
Status remove_older(FileSystem& fs, const std::string& folder) {
  if (auto s = remove_matching(fs, folder, "page-", {".html"}); !s) return s;
  const std::string pictures = folder + "/pictures";
  const auto there = fs.stat(pictures);
  if (!there) return there.error();
  if (!*there || (*there)->type != FileType::folder) return Done{};
  const auto pages = fs.list(pictures);
  if (!pages) return pages.error();
  for (const std::string& page : *pages) {
    const auto what = fs.stat(pictures + "/" + page);
    if (!what) return what.error();
    if (!is_numbered(page, "", "") || !*what || (*what)->type != FileType::folder) continue;
    if (auto s = remove_matching(fs, pictures + "/" + page, "", {"-whole.jpg", "-close.jpg"}); !s) return s;
  }
  return Done{};
}

// A file of the sheet's own folder. Not synced: it can be made again.
Status put_file(FileSystem& fs, const std::string& path, Bytes bytes) {
  const auto there = fs.stat(path);
  if (!there) return there.error();
  if (*there)
    if (auto s = fs.remove(path); !s) return s;
  auto file = fs.create(path, kFileMode);
  if (!file) return file.error();
  if (auto s = (*file)->write(bytes); !s) return s;
  return (*file)->close();
}

std::string placeholder(const SheetOptions& o) {
  return sheet_page_top(o, "Contact sheet", "") +
         "<p>It is being made; or its making was interrupted.</p>\n" + sheet_page_end("");
}

// The folder is new, empty, or holds a sheet of ours.
Status claim(FileSystem& fs, const std::string& folder) {
  const auto there = fs.stat(folder);
  if (!there) return there.error();
  if (!*there) return make_folders(fs, folder, kFolderMode);
  if ((*there)->type != FileType::folder)
    return Error{Cause::unsupported, folder, "is there already, and is no folder"};
  const auto names = fs.list(folder);
  if (!names) return names.error();
  if (names->empty()) return Done{};
  const auto index = fs.read_file(folder + "/index.html", 64u << 20);
  if (!index || !is_own_page(*index, kSheetTitle))
    return Error{Cause::unsupported, folder,
                 "holds something else than a contact sheet of burstsieve's; name another"};
  return Done{};
}

}  // namespace

struct SheetFolder::State {
  State(FileSystem& file_system, std::string where, SheetOptions chosen)
      : fs(file_system), folder(std::move(where)), options(std::move(chosen)) {}

  FileSystem& fs;
  std::string folder;
  SheetOptions options;
  std::vector<SheetEntry> entries;
  std::string body;                  // of the page being filled
  std::size_t page = 0;              // its number; 0: none yet
  std::size_t on_page = 0, all = 0;  // frames
  std::unique_ptr<NewFile> pdf_file;
  std::unique_ptr<SheetPdf> pdf;

  std::string page_name(std::size_t number) const { return fmt::format("page-{:03}.html", number); }
  std::string pdf_part() const { return folder + "/sheet.pdf.part"; }

  std::string navigation(bool more) const {
    std::string out = "<nav><a href=\"index.html\">All bursts</a>";
    if (page > 1) out += fmt::format("<a href=\"{}\">Page before</a>", page_name(page - 1));
    if (more) out += fmt::format("<a href=\"{}\">Next page</a>", page_name(page + 1));
    return out + "</nav>\n";
  }

  Status write_page(bool more) {
    if (page == 0) return Done{};
    const std::string text =
        sheet_page_top(options, fmt::format("Contact sheet, page {}", page), navigation(more)) + body +
        sheet_page_end(navigation(more));
    body.clear();
    on_page = 0;
    return put_file(fs, folder + "/" + page_name(page), bytes_of_text(text));
  }

  Status begin_page() {
    ++page;
    return make_folders(fs, folder + fmt::format("/pictures/{:03}", page), kFolderMode);
  }

  Status put_picture(const std::vector<std::uint8_t>& jpeg, const char* which, std::string& href) {
    if (jpeg.empty()) return Done{};
    href = fmt::format("pictures/{:03}/{:06}-{}.jpg", page, all, which);
    return put_file(fs, folder + "/" + href, jpeg);
  }

  Status put_cards(SheetBurst& b) {
    for (SheetCard& card : b.cards) {
      ++all;
      ++on_page;
      if (card.whole_width > 0)
        if (auto s = put_picture(card.frame->facts.thumbnail, "whole", card.whole_href); !s) return s;
      if (auto s = put_picture(card.crop.jpeg, "close", card.crop_href); !s) return s;
    }
    return Done{};
  }

  void enter(const SheetBurst& b) {
    SheetEntry e;
    e.number = b.burst->number;
    e.time = time_on_sheet(b.burst->frames.front().frame.capture);
    e.camera = one_line(b.burst->camera);
    e.page = page_name(page);
    e.shown = b.cards.size();
    for (const FrameOutcome& f : b.burst->frames) {
      e.keep += f.verdict.verdict == Verdict::keep;
      e.undecided += f.verdict.verdict == Verdict::undecided;
      e.reject += f.verdict.verdict == Verdict::reject;
    }
    auto best = std::find_if(b.cards.begin(), b.cards.end(),
                             [](const SheetCard& c) { return c.frame->verdict.verdict == Verdict::keep; });
    if (best == b.cards.end()) best = b.cards.begin();
    e.best_href = best->whole_href;
    e.best_name = name_on_sheet(*best->frame);
    entries.push_back(std::move(e));
  }

  Status begin_pdf() {
    const auto there = fs.stat(pdf_part());
    if (!there) return there.error();
    if (*there)
      if (auto s = fs.remove(pdf_part()); !s) return s;
    auto file = fs.create(pdf_part(), kFileMode);
    if (!file) return file.error();
    pdf_file = std::move(*file);
    pdf = std::make_unique<SheetPdf>(options, [this](Bytes bytes) { return pdf_file->write(bytes); });
    return Done{};
  }

  Status end_pdf() {
    if (!pdf) return Done{};
    if (auto s = pdf->finish(); !s) return Error{s.error().cause, pdf_part(), s.error().text};
    if (auto s = pdf_file->close(); !s) return s;
    pdf_file.reset();
    return fs.rename(pdf_part(), folder + "/sheet.pdf", true);
  }
};

SheetFolder::SheetFolder(std::unique_ptr<State> state) : state_(std::move(state)) {}
SheetFolder::~SheetFolder() = default;

Result<std::unique_ptr<SheetFolder>> SheetFolder::start(FileSystem& fs, const std::string& folder,
                                                        SheetOptions options) {
  if (options.frames_per_page < 1) return Error{Cause::unsupported, {}, "a page needs room for a frame"};
  if (auto s = claim(fs, folder); !s) return s.error();
  // First the mark that the folder is ours, so that an interrupted sheet can be made again.
  if (auto s = put_file(fs, folder + "/index.html", bytes_of_text(placeholder(options))); !s)
    return s.error();
  if (auto s = remove_older(fs, folder); !s) return s.error();
  auto state = std::make_unique<State>(fs, folder, std::move(options));
  if (state->options.pdf)
    if (auto s = state->begin_pdf(); !s) return s.error();
  return std::unique_ptr<SheetFolder>(new SheetFolder(std::move(state)));
}

Status SheetFolder::add(const BurstOutcome& burst, const CropMaker& crops) {
  State& s = *state_;
  SheetBurst b = sheet_burst(burst, s.options);
  if (b.cards.empty()) return Done{};
  if (s.page == 0 || (s.on_page > 0 && s.on_page + b.cards.size() > s.options.frames_per_page)) {
    if (auto done = s.write_page(true); !done) return done;
    if (auto done = s.begin_page(); !done) return done;
  }
  if (crops) {
    std::vector<const FrameOutcome*> frames;
    std::vector<CropPlace> places;
    for (const SheetCard& card : b.cards) {
      frames.push_back(card.frame);
      places.push_back(card.place);
    }
    auto made = crops(frames, places);
    for (std::size_t i = 0; i < std::min(made.size(), b.cards.size()); ++i)
      b.cards[i].crop = std::move(made[i]);
  }
  if (auto done = s.put_cards(b); !done) return done;
  s.body += burst_on_page(b);
  s.enter(b);
  if (s.pdf) s.pdf->add(b);
  return Done{};
}

Status SheetFolder::finish(const std::string& debrief_page) {
  State& s = *state_;
  if (auto done = s.write_page(false); !done) return done;
  if (auto done = s.end_pdf(); !done) return done;
  return put_file(s.fs, s.folder + "/index.html",
                  bytes_of_text(sheet_index(s.options, s.entries, s.page, debrief_page)));
}

std::size_t SheetFolder::frames() const {
  return state_->all;
}

std::size_t SheetFolder::paper_pages() const {
  return state_->pdf ? state_->pdf->pages() : 0;
}

}  // namespace burstsieve::report
