// Prints the header boost/random/detail/sobol_table.hpp with only the first dimensions of its
// table, as many as the core uses: the whole one is a tenth of a phone's core.
#include <boost/random/detail/sobol_table.hpp>
#include <cstdio>

int main() {
  using Table = boost::random::detail::qrng_tables::sobol;
  constexpr unsigned kDimensions = 256;  // kMostQuasi of core/crew/uncertain.cpp
  const unsigned rows = kDimensions - 1;
  std::printf(
      "#pragma once\n"
      "#include <cstddef>\n"
      "#define BOOST_RANDOM_SOBOL_MAX_DIMENSION %u\n"
      "namespace boost { namespace random { namespace detail { namespace qrng_tables {\n"
      "struct sobol {\n"
      "  static constexpr unsigned max_dimension = %u, num_polynomials = %u, max_degree = %u;\n"
      "  typedef unsigned short value_type;\n",
      kDimensions, kDimensions, rows, Table::max_degree);
  std::printf(
      "  static value_type polynomial(std::size_t n) {\n"
      "    static const value_type all[] = {");
  for (unsigned i = 0; i < rows; ++i) std::printf("%u,", Table::polynomial(i));
  std::printf(
      "};\n    return all[n];\n  }\n"
      "  static value_type minit(std::size_t dim, std::size_t degree) {\n"
      "    static const value_type all[] = {");
  for (unsigned i = 0; i < rows; ++i) {
    for (unsigned k = 0; k < Table::max_degree; ++k) std::printf("%u,", Table::minit(i, k));
  }
  std::printf("};\n    return all[dim * max_degree + degree];\n  }\n};\n}}}}\n");
}
