# make demo   reads the sample photographs and says where the result lies
# make test   all tests
# make check  formatting, lints, tests: what has to pass before work lands
# make bench  speed and error rate beside named peers, in one run
SHELL := /bin/bash
OUT ?= out

# What the build and the reading need from Debian 12. `tesseract-ocr` brings the plain program that
# the benches compare with.
PACKAGES := libtesseract-dev libleptonica-dev tesseract-ocr tesseract-ocr-eng pkg-config cmake clang make gcc
# What the tests hold pages and exports against; `chromium` is the browser that drives the desk.
TEST_PACKAGES := $(PACKAGES) chromium libxml2-utils qpdf poppler-utils libreoffice-calc-nogui

.PHONY: demo test check lint bench setup setup-tests samples clean-demo

setup: WANTED := $(PACKAGES)
setup-tests: WANTED := $(TEST_PACKAGES)

setup setup-tests:
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

demo: setup
	@echo "Building (the first time takes some minutes)"
	@cargo build --release --quiet
	@samples/demo.sh target/release/dorso "$(OUT)"

test: setup-tests
	cargo test --release

lint: setup
	cargo clippy --release --all-targets -- -D warnings

check: setup
	cargo fmt --check
	$(MAKE) lint
	$(MAKE) test
	RUSTDOCFLAGS="-D warnings" cargo doc --release --no-deps --quiet

bench: setup
	cargo bench

samples: setup
	cargo run --release --example make_samples

clean-demo:
	rm -rf "$(OUT)"
