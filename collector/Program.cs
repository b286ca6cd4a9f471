using Cardassay.Collector.Commands;

return await CommandLine.RunAsync(args);
