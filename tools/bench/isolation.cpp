#include "isolation.h"

#include <sys/resource.h>

#include <algorithm>

#include "burstsieve/pipeline/engine_process.h"

namespace burstsieve::bench {
namespace {

double ms_of(const timeval& t) {
  return static_cast<double>(t.tv_sec) * 1e3 + static_cast<double>(t.tv_usec) / 1e3;
}

// Of this process and of the children that have ended.
double family_cpu_ms() {
  double out = 0;
  for (const auto who : {RUSAGE_SELF, RUSAGE_CHILDREN}) {
    rusage use{};
    if (::getrusage(who, &use) == 0) out += ms_of(use.ru_utime) + ms_of(use.ru_stime);
  }
  return out;
}

Result<double> one_round(const std::vector<Frame>& frames, const std::string& program) {
  pipeline::EngineOptions options;
  options.program = program;
  options.require_sandbox = !program.empty();
  const double start = family_cpu_ms();
  {
    const auto engine = pipeline::make_engine(options, 1, {});
    if (!engine) return engine.error();
    (*engine)->submit({frames, {}, false});
    auto facts = (*engine)->next({}, nullptr);
    if (!facts) return facts.error();
    for (std::size_t i = 0; i < frames.size(); ++i)
      if (const auto& f = (*facts)->frames[i]; !f.damage.empty())
        return Error{Cause::corrupt, frames[i].main().path, f.damage};
  }
  return (family_cpu_ms() - start) / static_cast<double>(frames.size());
}

double median(std::vector<double> v) {
  std::sort(v.begin(), v.end());
  return v[v.size() / 2];
}

}  // namespace

Result<IsolationCost> isolation_cost(const std::vector<FileRef>& files, int frames, int rounds,
                                     const std::string& program) {
  std::vector<Frame> burst;
  for (int i = 0; i < frames; ++i) {
    const FileRef& file = files[static_cast<std::size_t>(i) % files.size()];
    Frame frame;
    (file.kind == FileKind::raw ? frame.raw : frame.jpeg) = file;
    burst.push_back(std::move(frame));
  }
  std::vector<double> here, apart;
  for (int i = 0; i < rounds; ++i) {
    const auto a = one_round(burst, {});
    if (!a) return a.error();
    const auto b = one_round(burst, program);
    if (!b) return b.error();
    here.push_back(*a);
    apart.push_back(*b);
  }
  return IsolationCost{median(here), median(apart)};
}

}  // namespace burstsieve::bench
