System.Console.WriteLine("cardassay-collector");
