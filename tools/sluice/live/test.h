/* test.h - what the help of `sluice test` says beyond its line. */
#ifndef SLUICE_TOOLS_LIVE_TEST_H
#define SLUICE_TOOLS_LIVE_TEST_H

extern const char test_help[];

#endif
