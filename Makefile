# make demo   reads the sample photographs and says where the result lies
# make test   all tests
# make check  formatting, lints, tests: what has to pass before work lands
# make bench  speed and error rate beside named peers, in one run
# make report measures what is quick and writes benches/RESULTS.md; takes some minutes
# FEATURES=tesseract behind any of them builds with Tesseract as a second voter.
SHELL := /bin/bash
OUT ?= out
FEATURES ?=

# What the build needs from Debian 12: SQLite is compiled in, and Rust links with gcc.
PACKAGES := make gcc
TESSERACT := libtesseract-dev libleptonica-dev tesseract-ocr-eng pkg-config cmake clang
ifneq (,$(findstring tesseract,$(FEATURES)))
PACKAGES += $(TESSERACT)
endif
# What the tests hold pages and exports against; `chromium` is the browser that drives the desk, and
# `tesseract-ocr` brings the plain program that tests and benches compare with. The tests check the
# building with Tesseract too.
TEST_PACKAGES := $(PACKAGES) $(TESSERACT) tesseract-ocr chromium libxml2-utils qpdf poppler-utils libreoffice-calc-nogui
WITH := $(if $(FEATURES),--features $(FEATURES))

# From nothing, building without parts that can be used again is quicker; where somebody has built by cargo alone, those
# are there and are used.
ifeq (,$(wildcard $(or $(CARGO_TARGET_DIR),target)/release/incremental/*))
export CARGO_INCREMENTAL := 0
endif

.PHONY: demo test check lint bench report setup setup-tests setup-batch samples clean-demo

setup: WANTED := $(PACKAGES)
setup-tests: WANTED := $(sort $(TEST_PACKAGES))

setup-batch: WANTED := $(sort $(PACKAGES) openjdk-17-jre-headless python3-venv)

setup setup-tests setup-batch:
	@missing=""; for p in $(WANTED); do \
	  dpkg-query -W -f='$${Status}' $$p 2>/dev/null | grep -q 'ok installed' || missing="$$missing $$p"; done; \
	if [ -n "$$missing" ]; then \
	  echo "Installing from Debian:$$missing"; \
	  as_root=""; if [ "$$(id -u)" != 0 ]; then \
	    command -v sudo >/dev/null || { echo "setup: these Debian packages are missing:$$missing; install them as root, then run make again."; exit 1; }; \
	    as_root=sudo; fi; \
	  $$as_root apt-get update -qq && \
	  $$as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends $$missing >/dev/null; \
	fi
	@command -v cargo >/dev/null || { echo "setup: Rust is missing; install it with rustup (https://rustup.rs), then run make again."; exit 1; }
	@if [ $@ = setup-batch ]; then $(MAKE) --no-print-directory batch/.venv/made; fi

# Spark, for the test of reading on a cluster, which runs where it is: some 300 MB, and minutes a run.
batch/.venv/made: batch/requirements.txt
	@echo "Installing Spark for Python"
	@python3 -m venv batch/.venv && batch/.venv/bin/pip install --quiet --require-hashes -r $< && touch $@

demo: setup
	@echo "Building (the first time takes some minutes)"
	@cargo build --release --quiet $(WITH)
	@samples/demo.sh target/release/dorso "$(OUT)"

# The build with Tesseract is checked by `make lint` and tested by `make check`: it makes most libraries anew.
# The examples are no tests and take minutes to build: `make lint` checks them.
test: setup-tests
	cargo test --release --tests $(WITH)
	cargo test --release --doc $(WITH)

# With Tesseract, so that what only that build has is checked too; the plain build is what `make test` makes.
lint: setup-tests
ifeq (,$(FEATURES))
	cargo clippy --release --all-targets --features tesseract -- -D warnings
else
	cargo clippy --release --all-targets $(WITH) -- -D warnings
endif

check: setup
	cargo fmt --check
	$(MAKE) lint
	$(MAKE) test
ifeq (,$(FEATURES))
	cargo test --release --features tesseract --test pictures -- tesseract:: real_print::
endif
	RUSTDOCFLAGS="-D warnings" cargo doc --release --no-deps --quiet

bench: setup-tests
	cargo bench $(WITH)

report: setup
	cargo build --release --quiet $(WITH) --bin dorso --example report --example score_marks --example score_turns --example trial_weighing
	target/release/examples/report

samples: setup
	cargo run --release $(WITH) --example make_samples

clean-demo:
	rm -rf "$(OUT)"
