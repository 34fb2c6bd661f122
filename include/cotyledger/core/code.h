/* The code people read and write on a tag: B-0417-K = device tag, running number, check character.
 *
 * The check character is ISO/IEC 7064, MOD 37,36 (hybrid system, characters 0-9 A-Z) over the tag's letters and the
 * number's digits; it catches every single wrong character and nearly all swaps of neighbours. */
#ifndef COTYLEDGER_CORE_CODE_H
#define COTYLEDGER_CORE_CODE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define COT_TAG_MAX 4 /* letters A-Z */
#define COT_CODE_TEXT (COT_TAG_MAX + 1 + 7 + 1 + 1 + 1)

/* ISO/IEC 7064 MOD 37,36 check character of `len` characters 0-9 A-Z; '\0' when one is none of these. */
char cot_check_mod37_36(const char *s, size_t len);

bool cot_tag_valid(const char *s, size_t len);
/* Tag number `i` (0 = A .. 25 = Z, 26 = AA ...); false past ZZZZ. */
bool cot_tag_nth(uint32_t i, char out[static COT_TAG_MAX + 1]);

/* Writes TAG-0001-C; number 1 .. 9,999,999, at least four digits. */
void cot_code_make(const char *tag, uint32_t number, char out[static COT_CODE_TEXT]);
enum cot_code_state { COT_CODE_GOOD, COT_CODE_SHAPE, COT_CODE_CHECK };
/* Reads what a person typed (lower case, blanks, missing dashes or zeros are forgiven) into the written form. A check
 * character that is a figure must stand apart, or follow at least four digits: B-0417 is not B-0041-7.
 * COT_CODE_SHAPE: not such a code; COT_CODE_CHECK: it is one, but the check character does not fit: mistyped. */
enum cot_code_state cot_code_read(const char *typed, size_t len, char out[static COT_CODE_TEXT]);

#endif
