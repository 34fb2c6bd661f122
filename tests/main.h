#ifndef COT_TESTS_MAIN_H
#define COT_TESTS_MAIN_H
#include <check.h>
Suite *cot_suite(void);
#endif
