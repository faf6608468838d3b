pub mod demo;
