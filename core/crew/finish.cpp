#include "core/crew/finish.h"

#include <algorithm>
#include <map>

namespace chipfall {

double finish_minutes(const Shop& shop, const std::vector<Duty>& duties,
                      const std::vector<double>& minutes, int people) {
  std::vector<double> free_at(static_cast<size_t>(std::max(1, people)), 0.0);
  std::map<ToolKind, std::vector<double>> tools;
  for (const CleaningTool& tool : shop.tools) tools[tool.kind].push_back(0);
  std::map<std::string, double> ends;
  double last = 0;
  for (size_t i = 0; i < duties.size(); ++i) {
    const Duty& duty = duties[i];
    const size_t needed = std::min(free_at.size(), static_cast<size_t>(std::max(1, duty.people)));
    std::ranges::sort(free_at);
    double start = free_at[needed - 1];
    for (const std::string& id : duty.after) {
      if (const auto end = ends.find(id); end != ends.end()) start = std::max(start, end->second);
    }
    double* tool = nullptr;
    if (duty.tool != kNone) {
      std::vector<double>& same = tools[shop.tools[duty.tool].kind];
      tool = &*std::ranges::min_element(same);
      start = std::max(start, *tool);
    }
    const double end = start + minutes[i];
    std::fill_n(free_at.begin(), needed, end);
    if (tool != nullptr) *tool = end;
    ends[duty.id] = end;
    last = std::max(last, end);
  }
  return last;
}

}  // namespace chipfall
