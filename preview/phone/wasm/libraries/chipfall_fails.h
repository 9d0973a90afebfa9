#pragma once

// How libraries fail on a phone: the core ends, as by an exception that nobody catches, but without
// what would describe it; Boost.Math's streams alone were a tenth of the core.

// A format that is wrong.
#define FMT_THROW(exception) __builtin_trap()

// Boost.Math. Long double would be emulated on a phone, so double does; the answers stay within
// what the tests of the phone's core allow.
#ifdef __cplusplus
#define BOOST_MATH_PROMOTE_DOUBLE_POLICY false
#define BOOST_MATH_DOMAIN_ERROR_POLICY user_error
#define BOOST_MATH_POLE_ERROR_POLICY user_error
#define BOOST_MATH_OVERFLOW_ERROR_POLICY user_error
#define BOOST_MATH_EVALUATION_ERROR_POLICY user_error
#define BOOST_MATH_ROUNDING_ERROR_POLICY user_error
#define BOOST_MATH_INDETERMINATE_RESULT_ERROR_POLICY user_error
#define BOOST_MATH_NO_LONG_DOUBLE_MATH_FUNCTIONS

namespace boost::math::policies {
#define CHIPFALL_ENDS_THE_CORE(error)                  \
  template <class T>                                   \
  T user_##error(const char*, const char*, const T&) { \
    __builtin_trap();                                  \
  }
CHIPFALL_ENDS_THE_CORE(domain_error)
CHIPFALL_ENDS_THE_CORE(pole_error)
CHIPFALL_ENDS_THE_CORE(overflow_error)
CHIPFALL_ENDS_THE_CORE(evaluation_error)
CHIPFALL_ENDS_THE_CORE(indeterminate_result_error)
#undef CHIPFALL_ENDS_THE_CORE
template <class T, class Target>
Target user_rounding_error(const char*, const char*, const T&, const Target&) {
  __builtin_trap();
}
}  // namespace boost::math::policies
#endif
